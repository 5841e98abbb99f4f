//! A headless browser for the tests of pages: Chromium, driven through chromedriver (W3C WebDriver).

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper::Method;
use serde_json::{Value, json};

/// One browser at a time: two would only wait for each other.
static TURN: Mutex<()> = Mutex::new(());

/// Names under which the programs are installed.
const BROWSERS: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];
const DRIVER: &str = "chromedriver";

/// How the browser is set up.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Look {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) dark: bool,
    pub(crate) without_script: bool,
    pub(crate) without_wasm: bool,
}

impl Look {
    pub(crate) const DESK: Self = Self {
        width: 1400,
        height: 1000,
        dark: false,
        without_script: false,
        without_wasm: false,
    };
    pub(crate) const PHONE: Self = Self {
        width: 390,
        height: 844,
        ..Self::DESK
    };
}

fn there_is(name: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&path).any(|dir| dir.join(name).is_file())
}

/// Says aloud that a test is left out, past the harness that swallows what tests print.
fn say_left_out(test: &str, missing: &str) {
    assert!(
        std::env::var_os("HALFTURN_BROWSER").is_none(),
        "{missing} is missing, and HALFTURN_BROWSER asks for it"
    );
    let _ = writeln!(
        std::io::stderr(),
        "\n!!! {test}: NOT RUN, since there is no {missing}; Debian has it in chromium and chromium-driver !!!\n"
    );
}

/// A browser with a page of its own, and the folder that it saves files in.
pub(crate) struct Browser {
    pub(crate) client: Client,
    pub(crate) folder: PathBuf,
    driver: Child,
    // Removed after the browser has ended.
    profile: tempfile::TempDir,
}

/// Runs a test in a browser, if there is one.
pub(crate) fn in_browser<F>(test: &str, look: Look, run: impl FnOnce(Browser) -> F)
where
    F: Future<Output = Browser>,
{
    let Some(browser) = BROWSERS.into_iter().find(|name| there_is(name)) else {
        return say_left_out(test, "chromium");
    };
    if !there_is(DRIVER) {
        return say_left_out(test, DRIVER);
    }
    let _turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        let browser = Browser::start(browser, look).await;
        let browser = run(browser).await;
        let _ = browser.client.clone().close().await;
    });
}

/// A test that fails leaves neither driver nor browser behind. The browser would outlive its driver.
impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.driver.kill();
        let _ = self.driver.wait();
        let mut pkill = Command::new("pkill");
        let _ = pkill
            .args(["-KILL", "-f"])
            .arg(self.profile.path())
            .status();
    }
}

impl Browser {
    async fn start(browser: &str, look: Look) -> Self {
        let profile = tempfile::tempdir().expect("a folder");
        let folder = profile.path().join("saved");
        std::fs::create_dir(&folder).expect("a folder");
        let mut driver = Command::new(DRIVER)
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver starts");
        let port = BufReader::new(driver.stdout.take().expect("its output"))
            .lines()
            .map_while(Result::ok)
            .find_map(|line| {
                let rest = line.split("successfully on port ").nth(1)?;
                rest.trim_end_matches('.').parse::<u16>().ok()
            })
            .expect("the port of chromedriver");
        let mut args = vec![
            "--headless=new".to_owned(),
            "--no-sandbox".to_owned(),
            "--disable-gpu".to_owned(),
            "--disable-quic".to_owned(),
            "--no-first-run".to_owned(),
            "--disable-background-networking".to_owned(),
            "--disable-component-update".to_owned(),
            "--disable-sync".to_owned(),
            "--hide-scrollbars".to_owned(),
            format!("--window-size={},{}", look.width.max(500), look.height),
            format!(
                "--user-data-dir={}",
                profile.path().join("profile").display()
            ),
        ];
        if look.dark {
            args.push("--blink-settings=preferredColorScheme=0".to_owned());
        }
        if look.without_wasm {
            args.push("--js-flags=--jitless --no-expose-wasm".to_owned());
        }
        let mut options = json!({
            "binary": which(browser),
            "args": args,
            "prefs": { "download.default_directory": folder, "download.prompt_for_download": false },
        });
        if look.width < 500 {
            let metrics = json!({ "width": look.width, "height": look.height, "pixelRatio": 2.0, "touch": true });
            options["mobileEmulation"] = json!({ "deviceMetrics": metrics });
        }
        if look.without_script {
            options["prefs"]["profile.managed_default_content_settings.javascript"] = json!(2);
        }
        let capabilities = json!({
            "goog:chromeOptions": options,
            "goog:loggingPrefs": { "browser": "ALL" },
        });
        let client = ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(capabilities.as_object().expect("an object").clone())
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("a session");
        Self {
            client,
            folder,
            driver,
            profile,
        }
    }

    /// The process from which those of the browser come.
    pub(crate) fn process(&self) -> u32 {
        self.driver.id()
    }

    pub(crate) async fn open(&self, url: &str) {
        self.client.goto(url).await.expect("the page opens");
    }

    /// The value of an expression in the page.
    pub(crate) async fn value(&self, expression: &str) -> Value {
        let script = format!("return ({expression});");
        let value = self.client.execute(&script, Vec::new()).await;
        value.unwrap_or_else(|e| panic!("{expression}: {e}"))
    }

    /// Waits until an expression is true.
    pub(crate) async fn until(&self, expression: &str) {
        for _ in 0..600 {
            if self.value(&format!("Boolean({expression})")).await == json!(true) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        self.picture("never-true.png").await;
        panic!(
            "never true: {expression}; {:?}; {:?}",
            self.complaints().await,
            self.value("JSON.stringify(document.body.dataset)").await
        );
    }

    pub(crate) async fn find(&self, css: &str) -> fantoccini::elements::Element {
        let found = self.client.find(Locator::Css(css)).await;
        found.unwrap_or_else(|e| panic!("{css}: {e}"))
    }

    pub(crate) async fn click(&self, css: &str) {
        let element = self.find(css).await;
        element
            .click()
            .await
            .unwrap_or_else(|e| panic!("{css}: {e}"));
    }

    pub(crate) async fn keys(&self, css: &str, keys: &str) {
        let element = self.find(css).await;
        element
            .send_keys(keys)
            .await
            .unwrap_or_else(|e| panic!("{css}: {e}"));
    }

    /// Gives a field a value as a user's hand does, and tells the page by an event.
    pub(crate) async fn put(&self, css: &str, value: &Value, event: &str) {
        let script = "const field = document.querySelector(arguments[0]);
            field.value = arguments[1];
            field.dispatchEvent(new Event(arguments[2]));";
        let args = vec![json!(css), value.clone(), json!(event)];
        self.client
            .execute(script, args)
            .await
            .unwrap_or_else(|e| panic!("{css}: {e}"));
    }

    pub(crate) async fn text(&self, css: &str) -> String {
        self.find(css).await.text().await.expect("its text")
    }

    /// Errors and warnings of the console, refused by the policy or thrown by a script.
    pub(crate) async fn complaints(&self) -> Vec<String> {
        let log = self
            .client
            .issue_cmd(ConsoleLog)
            .await
            .expect("the log of the console");
        let entries = log.as_array().cloned().unwrap_or_default();
        let bad = |e: &Value| e["level"] == "SEVERE" || e["level"] == "WARNING";
        entries
            .iter()
            .filter(|e| bad(e))
            .map(|e| e["message"].to_string())
            .collect()
    }

    /// Nothing is wrong with the page so far.
    pub(crate) async fn quiet(&self) {
        assert_eq!(self.complaints().await, Vec::<String>::new());
    }

    /// What axe-core 4.14 (Deque Systems, MPL 2.0) finds of serious and critical faults against WCAG 2.2 A and AA.
    pub(crate) async fn axe(&self) -> Vec<String> {
        const AXE: &str = include_str!("../../../../tests/data/axe-core/axe.min.js");
        self.client
            .execute(AXE, Vec::new())
            .await
            .expect("axe runs");
        let run = "const done = arguments[0];
            const rules = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
            axe.run(document, { runOnly: rules, iframes: false }).then(
                (found) => done(found.violations
                    .filter((v) => v.impact === 'serious' || v.impact === 'critical')
                    .map((v) => v.id + ': ' + v.nodes.map((n) => n.html + ' ' + n.failureSummary).join(' | '))),
                (error) => done([String(error)]));";
        let found = self
            .client
            .execute_async(run, Vec::new())
            .await
            .expect("axe answers");
        let list = found.as_array().cloned().unwrap_or_default();
        list.iter()
            .map(|v| v.as_str().unwrap_or("?").to_owned())
            .collect()
    }

    /// Keeps a picture where `HALFTURN_SCREENSHOTS` names a folder.
    pub(crate) async fn picture(&self, name: &str) {
        let Some(dir) = std::env::var_os("HALFTURN_SCREENSHOTS") else {
            return;
        };
        let png = self.client.screenshot().await.expect("a picture");
        std::fs::create_dir_all(&dir).expect("the folder");
        std::fs::write(Path::new(&dir).join(name), png).expect("the picture is kept");
    }

    /// Waits for a saved file; its text.
    pub(crate) async fn saved(&self, name: &str) -> String {
        let path = self.folder.join(name);
        for _ in 0..200 {
            if let Ok(text) = std::fs::read_to_string(&path)
                && !text.is_empty()
            {
                return text;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        panic!("{name} was not saved");
    }
}

fn which(name: &str) -> PathBuf {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut places = std::env::split_paths(&path).map(|dir| dir.join(name));
    places
        .find(|p| p.is_file())
        .unwrap_or_else(|| PathBuf::from(name))
}

/// chromedriver's own command for the console.
#[derive(Debug)]
struct ConsoleLog;

impl WebDriverCompatibleCommand for ConsoleLog {
    fn endpoint(
        &self,
        base: &url::Url,
        session: Option<&str>,
    ) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/se/log", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &url::Url) -> (Method, Option<String>) {
        (Method::POST, Some(json!({ "type": "browser" }).to_string()))
    }
}
