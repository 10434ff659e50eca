//! The 3D view: pictures without a display. Runs where BRIMLINE_VIEW_TESTS=required is set;
//! software Vulkan is slow.
#![cfg(feature = "view")]

use brimline::view::{self, Look};

#[test]
fn a_picture_of_the_demo_is_not_blank() {
    if std::env::var("BRIMLINE_VIEW_TESTS").as_deref() != Ok("required") {
        println!("skipped: BRIMLINE_VIEW_TESTS is not \"required\"");
        return;
    }
    let (_, job) =
        brimline::job::Document::load("surveys/demo.ron".as_ref()).expect("the demo loads");
    let plan = brimline::plan::Plan::of(&job);
    let out = std::env::temp_dir().join("brimline-view-test.png");
    view::picture(&plan, Look::Finished, (400, 300), &out).expect("a picture");
    let image = image::open(&out).expect("a PNG").to_rgb8();
    assert_eq!(image.dimensions(), (400, 300));
}
