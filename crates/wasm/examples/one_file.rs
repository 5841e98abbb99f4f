//! Makes `reports/halfturn.html`, the page and its engine in one file, and its digest:
//!
//! ```sh
//! cargo run -p halfturn-wasm --example one_file             # into reports/
//! cargo run -p halfturn-wasm --example one_file -- FOLDER   # elsewhere, to compare
//! ```
//!
//! The same sources and the same compiler make the same bytes, wherever they lie.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::Command;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::DeflateEncoder;
use halfturn_report::page::{PLAYER_SCRIPT, PLAYER_STYLE, script_hash};
use sha2::{Digest as _, Sha256};

type Outcome<T> = Result<T, Box<dyn Error>>;

const TARGET: &str = "wasm32-unknown-unknown";

fn main() -> Outcome<()> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../..")
        .canonicalize()?;
    let folder = std::env::args_os()
        .nth(1)
        .map_or_else(|| root.join("reports"), PathBuf::from);
    let html = page(
        &root.join("assets/page"),
        &packed(&engine(&root)?)?,
        &compiler()?,
    )?;
    let digest: String = Sha256::digest(&html)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    std::fs::create_dir_all(&folder)?;
    std::fs::write(folder.join("halfturn.html"), &html)?;
    std::fs::write(
        folder.join("halfturn.html.sha256"),
        format!("{digest}  halfturn.html\n"),
    )?;
    Ok(())
}

/// The compiler by its version: another makes other bytes.
fn compiler() -> Outcome<String> {
    let told = Command::new("rustc").arg("--version").output()?;
    Ok(String::from_utf8(told.stdout)?.trim().to_owned())
}

/// Compiles the engine.
fn engine(root: &Path) -> Outcome<Vec<u8>> {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home
        .or_else(|| Some(std::env::home_dir()?.join(".cargo")))
        .ok_or("no home of cargo")?;
    let flags = [
        "-Ctarget-feature=+simd128".to_owned(),
        // The compiler thinks that two lanes don't pay. They make a batch 1.4 times faster, twice two at a time 1.5 times.
        // Sums keep their order, and all results their bits.
        "-Cllvm-args=-force-vector-width=2".to_owned(),
        "-Cllvm-args=-force-vector-interleave=2".to_owned(),
        "-Cllvm-args=-hints-allow-reordering=false".to_owned(),
        // The messages of panics name paths.
        format!("--remap-path-prefix={}=cargo", home.display()),
        format!("--remap-path-prefix={}=halfturn", root.display()),
    ];
    let target = std::env::var_os("CARGO_TARGET_DIR").unwrap_or_else(|| "target".into());
    let target = root.join(target);
    let made = Command::new("cargo")
        .args(["build", "--locked", "--package", "halfturn-wasm", "--lib"])
        .args(["--profile", "page", "--target", TARGET])
        .env("CARGO_ENCODED_RUSTFLAGS", flags.join("\u{1f}"))
        .env("CARGO_TARGET_DIR", &target)
        // Incremental builds cut the code into other units.
        .env("CARGO_INCREMENTAL", "0")
        .current_dir(root)
        .output()?;
    // It remarks on thousands of loops that have no lanes, which nobody needs to read.
    if !made.status.success() {
        return Err(String::from_utf8_lossy(&made.stderr).into());
    }
    let engine = target.join(TARGET).join("page/halfturn_wasm.wasm");
    Ok(std::fs::read(engine)?)
}

/// Compressed, as text.
fn packed(bytes: &[u8]) -> Outcome<String> {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
    std::io::Write::write_all(&mut encoder, bytes)?;
    Ok(STANDARD.encode(encoder.finish()?))
}

/// The whole page.
fn page(assets: &Path, engine: &str, compiler: &str) -> Outcome<String> {
    let read = |name: &str| std::fs::read_to_string(assets.join(name));
    let script = format!("{PLAYER_SCRIPT}{}", Bundle::of(assets, "app.js")?);
    let policy = format!(
        "default-src 'none'; script-src 'sha256-{}' 'sha256-{}' 'wasm-unsafe-eval'; worker-src blob:; \
         style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'",
        STANDARD.encode(Sha256::digest(&script)),
        script_hash(),
    );
    let icon = STANDARD.encode(read("serve/icon.svg")?);
    let style = [
        &read("palette.css")?,
        PLAYER_STYLE,
        &read("serve/serve.css")?,
    ]
    .concat();
    // What the page loads from a server stands here.
    let html = read("serve/index.html")?;
    let loaded = |line: &&str| {
        line.starts_with("<link rel=\"stylesheet\"") || line.starts_with("<script src=")
    };
    let html: String = html
        .lines()
        .filter(|l| !loaded(l))
        .map(|l| format!("{l}\n"))
        .collect();
    let html = replaced(
        &html,
        "<meta charset=\"utf-8\">\n",
        &format!(
            "<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n\
             <meta name=\"generator\" content=\"halfturn {}, {compiler}\">\n",
            env!("CARGO_PKG_VERSION")
        ),
    )?;
    let html = replaced(
        &html,
        "/icon.svg",
        &format!("data:image/svg+xml;base64,{icon}"),
    )?;
    let html = replaced(
        &html,
        "</head>",
        &format!("<style>\n{style}</style>\n</head>"),
    )?;
    let worker = read("one_file/worker.js")?;
    replaced(
        &html,
        "</body>",
        &format!(
            "<script type=\"text/plain\" id=\"worker\">{worker}</script>\n\
             <script type=\"application/octet-stream\" id=\"engine\">{engine}</script>\n\
             <script>{script}</script>\n</body>"
        ),
    )
}

/// A text with the one place that is `from` made `to`.
fn replaced(text: &str, from: &str, to: &str) -> Outcome<String> {
    match text.matches(from).count() {
        1 => Ok(text.replacen(from, to, 1)),
        n => Err(format!("{from:?} stands {n} times in the page").into()),
    }
}

/// Modules as one script, each in a function, those that others import before them.
#[derive(Default)]
struct Bundle {
    names: Vec<String>,
    text: String,
}

impl Bundle {
    fn of(assets: &Path, entry: &str) -> Outcome<String> {
        let mut bundle = Self::default();
        bundle.add(assets, entry)?;
        Ok(bundle.text)
    }

    fn add(&mut self, assets: &Path, name: &str) -> Outcome<()> {
        if self.names.iter().any(|known| known == name) {
            return Ok(());
        }
        self.names.push(name.to_owned());
        // A module of the one file takes the place of the one that needs a server.
        let own = assets.join("one_file").join(name);
        let path = if own.exists() {
            own
        } else {
            assets.join("serve").join(name)
        };
        let (mut body, mut exports) = (String::new(), Vec::new());
        for line in std::fs::read_to_string(path)?.lines() {
            if let Some(import) = line.strip_prefix("import ") {
                let (what, from) = import
                    .split_once(" from \"./")
                    .ok_or("an import of another kind")?;
                let from = from.trim_end_matches("\";");
                self.add(assets, from)?;
                body.push_str(&format!("const {what} = {};\n", variable(from)));
            } else if let Some(export) = line.strip_prefix("export ") {
                let mut words = export.split(|c: char| !(c.is_alphanumeric() || c == '_'));
                let kinds = ["async", "function", "const", "class", ""];
                exports.push(
                    words
                        .find(|w| !kinds.contains(w))
                        .ok_or("an export without a name")?
                        .to_owned(),
                );
                body.push_str(&format!("{export}\n"));
            } else {
                body.push_str(&format!("{line}\n"));
            }
        }
        self.text.push_str(&format!(
            "const {} = (() => {{\n\"use strict\";\n{body}return {{ {} }};\n}})();\n",
            variable(name),
            exports.join(", ")
        ));
        Ok(())
    }
}

/// What a module is called.
fn variable(name: &str) -> String {
    format!("module_{}", name.trim_end_matches(".js"))
}
