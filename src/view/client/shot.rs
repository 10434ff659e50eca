//! Pictures from the window: a second camera draws what the client sees at the size that is asked
//! for, and the file is put beside the job's.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use bevy::camera::RenderTarget;
use bevy::light::EnvironmentMapLight;
use bevy::pbr::DistanceFog;
use bevy::prelude::*;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::RequestRedraw;
use bevy_panorbit_camera::PanOrbitCamera;

use crate::view::scene::Showing;
use crate::view::work::Work;
use crate::view::{Look, picture, start};

use super::stand::Client;

/// Frames that a new camera is given before its picture is taken.
const SETTLE: u32 = 3;
/// Frames after which a picture is given up.
const PATIENCE: u32 = 400;

/// What to do where no picture can be put.
const BESIDE: &str = "Pictures lie beside the job: save it in another place first";

type Outcome = Arc<Mutex<Option<Result<PathBuf, String>>>>;

/// A picture on its way.
#[derive(Default)]
pub struct Shot {
    camera: Option<(Entity, Handle<Image>)>,
    frames: u32,
    outcome: Outcome,
}

impl Client {
    pub fn ask_for_picture(&mut self) {
        if self.shot.is_none() {
            self.turning = false;
            self.shot = Some(Shot::default());
        }
    }
}

type Seen<'a> = (
    &'a Transform,
    &'a Projection,
    &'a EnvironmentMapLight,
    Option<&'a DistanceFog>,
);

pub fn shoot(
    mut commands: Commands,
    (mut client, work, showing, time): (ResMut<Client>, Res<Work>, Res<Showing>, Res<Time<Real>>),
    mut images: ResMut<Assets<Image>>,
    camera: Single<Seen, With<PanOrbitCamera>>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let size = client.size.map(|s| s.clamp(16, 8192));
    let Some(shot) = &mut client.shot else { return };
    redraw.write(RequestRedraw);
    let done = shot.outcome.lock().ok().and_then(|mut o| o.take());
    let done = done.or_else(|| {
        (shot.frames > PATIENCE)
            .then(|| Err("no picture: the graphics driver did not finish".to_owned()))
    });
    if let Some(done) = done {
        if let Some((camera, _)) = shot.camera {
            commands.entity(camera).despawn();
        }
        let text = match done {
            Ok(path) => format!("Saved {}", path.display()),
            Err(why) => why,
        };
        client.shot = None;
        client.said = Some((text, time.elapsed_secs_f64()));
        return;
    }
    let (at, lens, sky, fog) = *camera;
    shot.frames += 1;
    match &shot.camera {
        None => {
            let target = images.add(picture::sheet((size[0], size[1])));
            let mut second = commands.spawn((
                start::camera(true),
                Camera {
                    order: -1,
                    ..default()
                },
                RenderTarget::from(target.clone()),
                *at,
                sky.clone(),
            ));
            second.insert(lens.clone());
            if let Some(fog) = fog {
                second.insert(fog.clone());
            }
            shot.camera = Some((second.id(), target));
        }
        Some((_, target)) if shot.frames == SETTLE => {
            let outcome = shot.outcome.clone();
            let out = name(work.editor.path(), showing.look);
            commands.spawn(Screenshot::image(target.clone())).observe(
                move |taken: On<ScreenshotCaptured>| {
                    let saved = match &out {
                        Some(out) => picture::save(taken.image.clone(), out)
                            .map(|()| out.clone())
                            .map_err(|why| format!("{why}. {BESIDE}")),
                        None => Err("no picture: no name for it is free".to_owned()),
                    };
                    if let Ok(mut outcome) = outcome.lock() {
                        *outcome = Some(saved);
                    }
                },
            );
        }
        Some(_) => {}
    }
}

/// Beside the job's file, or where the program was started; never over another file.
fn name(job: Option<&Path>, look: Look) -> Option<PathBuf> {
    let word = if look == Look::Finished {
        "after"
    } else {
        "before"
    };
    let folder = job.and_then(Path::parent).map(Path::to_owned);
    let stem = job
        .and_then(Path::file_stem)
        .map_or("yard".into(), |s| s.to_string_lossy().into_owned());
    let folder = folder.unwrap_or_default();
    (1..1000)
        .map(|n| folder.join(format!("{stem}-{word}-{n}.png")))
        .find(|path| !path.exists())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_lies_beside_the_job_and_over_no_other() {
        let folder = std::env::temp_dir().join(format!("brimline-shot-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        let job = folder.join("garden.ron");
        let first = name(Some(&job), Look::Finished).expect("a free name");
        assert_eq!(first, folder.join("garden-after-1.png"));
        std::fs::write(&first, "").expect("a file");
        let second = name(Some(&job), Look::Finished).expect("a free name");
        assert_eq!(second, folder.join("garden-after-2.png"));
        let before = name(Some(&job), Look::Existing).expect("a free name");
        assert_eq!(before, folder.join("garden-before-1.png"));
        let _ = std::fs::remove_dir_all(&folder);
    }
}
