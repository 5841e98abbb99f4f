//! One name for each thing, on every surface: `docs/words.md` says which names those are and which ones we don't say.
//!
//! A rule of this project, so that there is no source outside it.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::binary::{in_root, program, root};

/// Words of the table that also have an everyday sense: only the sense that has another name is kept out, in these phrases.
const NARROW: [(&str, &[&str], &str); 8] = [
    (
        "direction",
        &[
            "direction of rotation",
            "rotation direction",
            "direction of the drive",
            "believed direction",
        ],
        "a move and an approach have a direction",
    ),
    (
        "home",
        &["home position", "home reading", "home angle"],
        "homing a drive is another thing than parking it",
    ),
    (
        "margin",
        &[
            "margin from the seam",
            "margin to the seam",
            "seam margin",
            "margin of the target",
            "margin_deg",
        ],
        "a plan keeps a margin from a keep-out",
    ),
    (
        "play",
        &["the play", "play of", "play in", "no play", "gear play"],
        "judge plays scenarios, and the page a replay",
    ),
    (
        "wrap",
        &[
            "wraps the",
            "wraps to",
            "wrapped by",
            "wrapped into",
            "wrap the angle",
        ],
        "wrap rule and wrap logic are the field's names",
    ),
    (
        "trial",
        &[
            "a trial",
            "each trial",
            "every trial",
            "per trial",
            "trials each",
        ],
        "the option and the key are called trials",
    ),
    (
        "offset",
        &[
            "zero offset",
            "offset of the camera",
            "rotator offset",
            "angle offset",
        ],
        "a distance in a file or a picture is an offset",
    ),
    (
        "ratio",
        &["hit ratio", "ratio of runs", "ratio of the runs"],
        "a quotient of two figures is a ratio",
    ),
];

/// Phrases that stay: surface, phrase, reason.
const ALLOWED: [(&str, &str, &str); 5] = [
    ("docs/", "play operator", "its name in the literature"),
    ("docs/", "exact fractions", "rational numbers"),
    ("", "converges", "of a series or a search, not of a run"),
    ("", "converge", "of a series or a search, not of a run"),
    ("", "convergence", "of a series or a search, not of a run"),
];

/// A text, and where it stands.
struct Text {
    surface: String,
    text: String,
}

impl Text {
    fn new(surface: &str, text: String) -> Self {
        let surface = surface.to_owned();
        Self { surface, text }
    }
}

/// What we don't say: the last column of the table, and the phrases above it.
fn unsaid() -> Vec<String> {
    let page = read("docs/words.md");
    let rows = page
        .lines()
        .filter(|l| l.starts_with("| ") && l.ends_with('|'));
    let column = rows.filter_map(|l| l.trim_end_matches('|').rsplit('|').next());
    let names = column.flat_map(|cell| {
        let plain = cell.split('(').next().unwrap_or_default().to_owned();
        let words: Vec<String> = plain.split(',').map(|w| w.trim().to_owned()).collect();
        words
    });
    let phrases = page.split("We don't write: ").nth(1).expect("the phrases");
    let phrases = phrases.split("\".").next().expect("a sentence");
    let quoted = phrases.split('"').skip(1).step_by(2).map(str::to_owned);
    let found = names.filter(|w| !w.is_empty() && w != "we don't say");
    found.chain(quoted).collect()
}

/// The forms in which a word is looked for.
fn forms(word: &str) -> Vec<String> {
    if let Some((_, phrases, _)) = NARROW.iter().find(|(w, ..)| *w == word) {
        return phrases.iter().map(|p| (*p).to_owned()).collect();
    }
    let stem = word.strip_suffix('e').unwrap_or(word);
    let mut forms: Vec<String> = ["", "s", "es", "d", "ed"]
        .iter()
        .map(|end| format!("{word}{end}"))
        .collect();
    forms.extend(["ing", "ion", "ions"].map(|end| format!("{stem}{end}")));
    forms
}

/// Small letters, and one blank for any run of blanks and hyphens.
fn alike(text: &str) -> String {
    let blank = |c: char| {
        if c == '-' || c.is_whitespace() {
            ' '
        } else {
            c
        }
    };
    let text: String = text.to_lowercase().chars().map(blank).collect();
    text.split(' ')
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// True where these words stand in a text as words.
fn says(text: &str, phrase: &str) -> bool {
    let letter = |c: char| c.is_alphanumeric() || c == '_';
    text.match_indices(phrase).any(|(at, _)| {
        !text[..at].ends_with(letter) && !text[at + phrase.len()..].starts_with(letter)
    })
}

/// What a text says that it should not, with some of what stands around it.
fn faults(texts: &[Text]) -> Vec<String> {
    let unsaid: Vec<String> = unsaid()
        .iter()
        .flat_map(|w| forms(w))
        .map(|f| alike(&f))
        .collect();
    let mut found = Vec::new();
    for Text { surface, text } in texts {
        let mut text = alike(text);
        for (place, phrase, _) in ALLOWED {
            if surface.starts_with(place) {
                text = text.replace(&alike(phrase), "…");
            }
        }
        for form in unsaid.iter().filter(|form| says(&text, form)) {
            let at = text.find(form.as_str()).unwrap_or_default();
            let near: String = text[..at].chars().rev().take(30).collect();
            let near: String = near.chars().rev().collect();
            let after: String = text[at..].chars().take(50).collect();
            found.push(format!("{surface}: \"{form}\" in \"{near}{after}\""));
        }
    }
    found
}

fn read(path: &str) -> String {
    std::fs::read_to_string(in_root(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The files below a folder with this ending, as paths from the project's folder.
fn files(dir: &str, ending: &str) -> Vec<String> {
    fn walk(dir: &Path, found: &mut Vec<std::path::PathBuf>) {
        for entry in std::fs::read_dir(dir).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                walk(&path, found);
            } else {
                found.push(path);
            }
        }
    }
    let mut found = Vec::new();
    walk(&root().join(dir), &mut found);
    let names = found.iter().filter_map(|p| p.strip_prefix(root()).ok());
    let names = names.map(|p| p.to_string_lossy().replace('\\', "/"));
    let mut names: Vec<String> = names.filter(|n| n.ends_with(ending)).collect();
    names.sort();
    names
}

/// The texts between quotes in a program, comments left out. A text without a blank is a key.
fn literals(program: &str, quotes: &[char]) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = program;
    while let Some(c) = rest.chars().next() {
        if rest.starts_with("//") {
            rest = rest.find('\n').map_or("", |end| &rest[end..]);
        } else if rest.starts_with("'\"'") || rest.starts_with("'`'") {
            rest = &rest[3..];
        } else if quotes.contains(&c) {
            let mut text = String::new();
            let mut letters = rest[c.len_utf8()..].char_indices();
            let mut end = rest.len();
            while let Some((at, letter)) = letters.next() {
                match letter {
                    '\\' => {
                        letters.next();
                        text.push(' ');
                    }
                    _ if letter == c => {
                        end = at + 2;
                        break;
                    }
                    _ => text.push(letter),
                }
            }
            if text.trim().contains(' ') {
                found.push(text);
            }
            rest = &rest[end..];
        } else {
            rest = &rest[c.len_utf8()..];
        }
    }
    found
}

/// A page as one reads it: without marks, scripts and styles.
fn shown(html: &str) -> String {
    let mut out = String::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        out.push_str(&rest[..at]);
        out.push(' ');
        rest = &rest[at..];
        let end = ["script", "style"]
            .iter()
            .find(|tag| rest[1..].starts_with(**tag))
            .map_or_else(|| ">".to_owned(), |tag| format!("</{tag}>"));
        rest = rest.find(&end).map_or("", |at| &rest[at + end.len()..]);
    }
    out + rest
}

/// The help of a command and of those below it, in this width.
fn helps(command: &[&str], width: usize) -> Vec<Text> {
    let mut args = command.to_vec();
    args.push("--help");
    let help = Command::new(program())
        .args(&args)
        .env("COLUMNS", width.to_string())
        .output()
        .expect("the program starts");
    let help = String::from_utf8(help.stdout).expect("UTF-8");
    let listed = help.split("Commands:\n").nth(1).unwrap_or_default();
    let listed = listed.split("\n\n").next().unwrap_or_default();
    let names = listed
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    let mut found = Vec::new();
    for name in names
        .filter_map(|l| l.split_whitespace().next())
        .filter(|n| *n != "help")
    {
        found.extend(helps(&[command, &[name]].concat(), width));
    }
    found.push(Text::new(
        &format!("halfturn {} --help", command.join(" ")),
        help,
    ));
    found
}

/// The texts of a schema.
fn descriptions(value: &Value, out: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                match value.as_str() {
                    Some(text) if key == "description" || key == "title" => {
                        out.push(text.to_owned())
                    }
                    _ => descriptions(value, out),
                }
            }
        }
        Value::Array(all) => all.iter().for_each(|v| descriptions(v, out)),
        _ => {}
    }
}

/// Every surface but the pages of documentation.
fn of_the_program() -> Vec<Text> {
    let mut texts = helps(&[], 100);
    let report = "reports/demo/report.html";
    texts.push(Text::new(report, shown(&read(report))));
    for file in files("docs/schemas", ".json") {
        let schema = serde_json::from_str(&read(&file)).expect("JSON");
        let mut all = Vec::new();
        descriptions(&schema, &mut all);
        texts.extend(all.into_iter().map(|t| Text::new(&file, t)));
    }
    for file in files("assets/page", ".html") {
        texts.push(Text::new(&file, shown(&read(&file))));
    }
    for file in files("assets/page", ".js") {
        let all = literals(&read(&file), &['"', '`']);
        texts.extend(all.into_iter().map(|t| Text::new(&file, t)));
    }
    let sources = [
        "src",
        "crates/engine/src",
        "crates/report/src",
        "crates/sky/src",
    ];
    for file in sources.iter().flat_map(|dir| files(dir, ".rs")) {
        if !file.contains("tests") {
            let source = read(&file);
            let program = source
                .split("#[cfg(test)]\nmod ")
                .next()
                .unwrap_or_default();
            let all = literals(program, &['"']);
            texts.extend(all.into_iter().map(|t| Text::new(&file, t)));
        }
    }
    texts
}

/// The pages of documentation.
fn pages() -> Vec<Text> {
    let docs = files("docs", ".md")
        .into_iter()
        .filter(|f| f != "docs/words.md");
    ["README.md", "DEVELOPERS.md"]
        .map(str::to_owned)
        .into_iter()
        .chain(docs)
        .map(|file| Text::new(&file, read(&file)))
        .collect()
}

#[test]
fn surfaces_keep_to_one_name() {
    let unsaid = unsaid();
    assert!(unsaid.len() > 30, "{unsaid:?}");
    for (word, ..) in NARROW {
        assert!(
            unsaid.iter().any(|w| w == word),
            "{word} is not in the table"
        );
    }
    let mut texts = of_the_program();
    texts.extend(pages());
    for surface in [
        "halfturn",
        "reports",
        "docs/schemas",
        "assets/page/serve",
        "src",
        "crates/sky",
        "docs/",
    ] {
        let count = texts
            .iter()
            .filter(|t| t.surface.starts_with(surface))
            .count();
        assert!(count > 0, "no text of {surface}");
    }
    let faults = faults(&texts);
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

/// On terminals of the two usual widths. A synopsis is not wrapped.
#[test]
fn help_wraps_well() {
    for width in [80, 100] {
        for Text { surface, text } in helps(&[], width) {
            for line in text.lines().filter(|l| !l.starts_with("Usage:")) {
                assert!(line.chars().count() <= width, "{surface}, {width}: {line}");
                assert!(!line.ends_with(" by"), "{surface}, {width}: {line}");
            }
        }
    }
}
