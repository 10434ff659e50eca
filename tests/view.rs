use brimline::plan::Plan;
use brimline::view::{self, Look};

#[path = "../src/view/synthetic.rs"]
mod synthetic;

#[test]
fn synthetic() {
    let plan: Plan = synthetic::plan();
    for (look, name) in [(Look::Existing, "existing"), (Look::Dug, "dug"), (Look::Finished, "finished")] {
        let t = std::time::Instant::now();
        view::picture(&plan, look, (1280, 800), std::path::Path::new(&format!("/tmp/syn-{name}.png"))).unwrap();
        println!("{name} {:?}", t.elapsed());
    }
}
