//! What happens to files when a run is killed, a disk is full or a folder may not be written to.

use std::time::{Duration, Instant};

use super::*;

/// The trip judged over other days than before, so that every output changes.
const JUDGE_AGAIN: [&str; 7] = [
    "reconcile",
    "--design",
    "trip/design.toml",
    "--out",
    "out",
    "--from",
    "2026-08-28",
];

/// Without passing names, which a killed run leaves beside the files.
fn whole(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = files(folder);
    found.retain(|name, _| name.extension().is_none_or(|e| e != "part"));
    found
}

#[test]
fn killed_at_any_moment_every_file_is_old_or_new() {
    let at = trip();
    let out = at.path().join("out");
    assert_eq!(run(at.path(), &JUDGE_TRIP).status, 0);
    let old = files(&out);
    let first_day: String = report(&out)["days"][1]["date"].as_str().unwrap().to_owned();
    let mut again = JUDGE_AGAIN;
    again[6] = &first_day;
    let started = Instant::now();
    assert_eq!(run(at.path(), &again).status, 0);
    let took = started.elapsed();
    let new = files(&out);
    assert_ne!(
        old["report.html".as_ref() as &Path],
        new["report.html".as_ref() as &Path]
    );
    // Most of a run is reading and reckoning: half of the moments fall into its last fifth, where
    // it writes.
    let moments = (0..20).map(|k| match k % 2 {
        0 => took.mul_f64(f64::from(k) / 20.0),
        _ => took.mul_f64(0.8 + 0.25 * f64::from(k) / 20.0),
    });
    let mut met = [0, 0];
    for moment in moments {
        fs::remove_dir_all(&out).unwrap();
        for (name, content) in &old {
            let target = out.join(name);
            fs::create_dir_all(target.parent().unwrap()).unwrap();
            fs::write(target, content).unwrap();
        }
        let mut child = program(at.path(), &again)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(moment);
        let _ = child.kill();
        child.wait().unwrap();
        for (name, content) in whole(&out) {
            let is_old = old.get(&name) == Some(&content);
            let is_new = new.get(&name) == Some(&content);
            assert!(
                is_old || is_new,
                "{} is neither, killed after {moment:?}",
                name.display()
            );
            met[usize::from(is_new && !is_old)] += 1;
        }
    }
    assert!(met[0] > 0, "no run was killed before its end");
    // Whatever was left behind, the next run is whole.
    assert_eq!(run(at.path(), &again).status, 0);
    assert_eq!(whole(&out), new);
}

/// A small file system of its own below `at`, where one can be mounted.
struct Small<'a> {
    at: &'a Path,
}

impl Drop for Small<'_> {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.at).status();
    }
}

#[allow(clippy::print_stderr)]
fn small<'a>(at: &'a Path, options: &str) -> Option<Small<'a>> {
    fs::create_dir_all(at).unwrap();
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", options, "tmpfs"])
        .arg(at)
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    if !mounted {
        eprintln!("SKIPPED: no file system can be mounted here: {options}");
    }
    mounted.then_some(Small { at })
}

#[test]
fn a_full_disk_is_told_and_leaves_what_stood_there() {
    let at = trip();
    let disk = at.path().join("disk");
    let Some(_mounted) = small(&disk, "size=64k") else {
        return;
    };
    fs::write(disk.join("report.txt"), "mine").unwrap();
    let judged = run(
        at.path(),
        &["reconcile", "--design", "trip/design.toml", "--out", "disk"],
    );
    refused(&judged, 1, &["disk/report.", "no space is left", "--out"]);
    assert_eq!(fs::read_to_string(disk.join("report.txt")).unwrap(), "mine");
    assert!(!disk.join("report.html").exists());
    let passing = files(&disk)
        .into_keys()
        .filter(|f| f.extension().is_some_and(|e| e == "part"));
    assert_eq!(passing.count(), 0, "nothing is left beside it");
}

#[test]
fn a_full_place_for_passing_files_is_told() {
    let at = tempfile::tempdir().unwrap();
    let disk = at.path().join("disk");
    let Some(_mounted) = small(&disk, "size=64k") else {
        return;
    };
    let log = format!("{HEADER}{}", rows(28, 5));
    let mut child = program(at.path(), &["inspect", "-"])
        .env("TMPDIR", &disk)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The program may end before it has read all.
    let _ = child.stdin.take().unwrap().write_all(log.as_bytes());
    let read = ran(child.wait_with_output().unwrap());
    refused(&read, 1, &["no space is left", "TMPDIR"]);
}

#[test]
fn a_folder_that_may_not_be_written_to_is_told() {
    let at = trip();
    let disk = at.path().join("disk");
    let Some(_mounted) = small(&disk, "ro") else {
        return;
    };
    let judged = run(
        at.path(),
        &["reconcile", "--design", "trip/design.toml", "--out", "disk"],
    );
    refused(
        &judged,
        1,
        &["disk", "nothing can be written there", "--out"],
    );
    assert!(files(&disk).is_empty());
    let made = run(at.path(), &["new", "disk/mine.toml"]);
    refused(
        &made,
        1,
        &["disk/mine.toml", "nothing can be written there"],
    );
}

#[test]
fn a_file_that_has_vanished_is_named() {
    let at = workshop(DESIGN, &log());
    std::os::unix::fs::symlink("gone.csv", at.path().join("log2.csv")).unwrap();
    let judged = run(
        at.path(),
        &[
            "reconcile",
            "log2.csv",
            "--design",
            "design.toml",
            "--out",
            "out",
        ],
    );
    refused(&judged, 1, &["log2.csv"]);
    assert!(!at.path().join("out").exists());
}

#[test]
fn what_another_program_writes_is_read_to_its_end() {
    let at = workshop(DESIGN, &log());
    let made = Command::new("mkfifo")
        .arg(at.path().join("pipe.csv"))
        .status();
    assert!(made.unwrap().success());
    let (pipe, text) = (at.path().join("pipe.csv"), log());
    let writer = std::thread::spawn(move || fs::write(pipe, text));
    let read = run(at.path(), &["inspect", "pipe.csv"]);
    writer.join().unwrap().unwrap();
    assert_eq!(read.status, 0, "{}", read.err);
    let file = run(at.path(), &["inspect", "log.csv"]);
    assert_eq!(read.out.replace("pipe.csv", "log.csv"), file.out);
}

#[test]
fn what_cannot_be_printed_is_an_error() {
    let at = workshop(DESIGN, &log());
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = program(at.path(), &["inspect", "log.csv"])
        .stdout(full)
        .stderr(Stdio::piped())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("no space is left"), "{said}");
}

#[test]
fn a_bomb_of_zeros_is_unpacked_in_little_time_and_told() {
    let at = tempfile::tempdir().unwrap();
    let file = fs::File::create(at.path().join("bomb.csv.gz")).unwrap();
    let mut packed = flate2::write::GzEncoder::new(file, flate2::Compression::best());
    let zeros = vec![0_u8; 1 << 20];
    for _ in 0..256 {
        packed.write_all(&zeros).unwrap();
    }
    packed.finish().unwrap();
    let started = Instant::now();
    let read = run(at.path(), &["inspect", "bomb.csv.gz"]);
    refused(&read, 1, &["bomb.csv.gz"]);
    // Not a test of speed: a reader that goes back over what it holds would take hours.
    assert!(started.elapsed() < Duration::from_secs(120));
}
