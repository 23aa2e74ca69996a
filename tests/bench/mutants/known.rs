//! The list of mutants that may live, each with its reason.

use std::collections::BTreeMap;
use std::path::Path;

/// Keys and reasons. One reason may stand below several keys.
///
/// # Panics
/// On a key without a reason, a reason without a key, and a key that stands twice.
pub(crate) fn read(path: &Path) -> BTreeMap<String, String> {
    let text = std::fs::read_to_string(path).expect("the list of mutants that may live");
    let mut known: BTreeMap<String, String> = BTreeMap::new();
    let mut open: Vec<String> = Vec::new();
    let mut explained = false;
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        if line.trim().is_empty() {
            continue;
        }
        if line.starts_with(' ') {
            assert!(!open.is_empty(), "a reason without a mutant: {line}");
            for key in &open {
                let reason = known.get_mut(key).expect("an open key");
                reason.push_str(line.trim());
                reason.push(' ');
            }
            explained = true;
            continue;
        }
        if explained {
            open.clear();
            explained = false;
        }
        let key = line.trim().to_owned();
        let twice = known.insert(key.clone(), String::new());
        assert!(twice.is_none(), "listed twice: {key}");
        open.push(key);
    }
    for (key, reason) in &known {
        assert!(!reason.is_empty(), "listed without a reason: {key}");
    }
    known
}
