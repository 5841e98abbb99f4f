//! Files over time: today's reader reads every sample of every format that is kept under tests/data/formats, and means the same by it;
//! a format that is newer is refused clearly.
//!
//! Figures may change between versions, so none of them is compared; what a file *says* must not change.

mod newer;
mod samples;

use std::path::{Path, PathBuf};

/// The folders of samples, one for each format.
fn folders() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/formats");
    let mut found: Vec<PathBuf> = std::fs::read_dir(&root)
        .unwrap_or_else(|e| panic!("{}: {e}", root.display()))
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.is_dir())
        .collect();
    found.sort();
    assert!(!found.is_empty());
    found
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Copies a folder of samples, for the program may write into it.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("the samples").flatten() {
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).expect("a copy");
        }
    }
}
