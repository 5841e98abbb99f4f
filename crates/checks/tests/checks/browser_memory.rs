//! How much memory the one file takes, by what Linux tells of the browser's processes.

use serde_json::json;

use crate::binary::{root, tell};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_given::drop_file;
use crate::browser_page::judged;
use crate::one_file::{alone, open};

/// Most memory of the process of the page \[MB\].
const MOST_MB: u64 = 300;

/// The parent of a process (proc(5): the second field after the name, which ends with the last bracket).
fn parent(pid: u32) -> Option<u32> {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
    let (_, after) = stat.rsplit_once(')')?;
    after.split_whitespace().nth(1)?.parse().ok()
}

/// The most that a process of a page of this browser has held at once, without the files of the browser itself, which all
/// pages share \[MB\]; `None` where nothing tells.
fn peak_mb(browser: &Browser) -> Option<u64> {
    let ours = |pid: &u32| {
        let mut line = std::iter::successors(Some(*pid), |pid| parent(*pid));
        line.any(|pid| pid == browser.process())
    };
    let peak = |pid: u32| {
        let read = |what: &str| std::fs::read_to_string(format!("/proc/{pid}/{what}")).ok();
        read("cmdline").filter(|line| line.contains("--type=renderer"))?;
        let status = read("status")?;
        let kib = |what: &str| {
            let line = status.lines().find_map(|line| line.strip_prefix(what))?;
            line.trim().trim_end_matches(" kB").parse::<u64>().ok()
        };
        Some((kib("VmHWM:")? - kib("RssFile:")?) * 1024 / 1_000_000)
    };
    let all = std::fs::read_dir("/proc").ok()?;
    let all = all.filter_map(|entry| entry.ok()?.file_name().to_str()?.parse().ok());
    all.filter(ours).filter_map(peak).max()
}

/// Shows (serve): the one file stays below 300 MB with an advice, a map and a log. Source: none: own rule.
#[test]
fn the_one_file_stays_below_300_mb() {
    in_browser("one file: memory", Look::DESK, async |browser| {
        open(&browser).await;
        judged(&browser).await;
        browser
            .until("!document.querySelector('#apply').disabled")
            .await;
        browser.click("#tab-report").await;
        browser.click("#tab-map").await;
        browser.click("#draw-map").await;
        browser
            .until("document.querySelector('#map-words').textContent.includes('1159 cells')")
            .await;
        let log = std::fs::read_to_string(root().join("assets/demo-log.csv")).expect("a log");
        drop_file(&browser, "log.csv", &log).await;
        browser.until("document.querySelector('#take-fit')").await;
        for start_deg in 0..60 {
            browser
                .put(
                    "[data-key='wrap.arc_start_deg'] input[type=number]",
                    &json!(start_deg),
                    "input",
                )
                .await;
        }
        browser
            .until("!document.querySelector('#apply').disabled")
            .await;
        alone(&browser).await;
        match peak_mb(&browser) {
            Some(mb) => {
                tell(&format!(
                    "halfturn.html: at most {mb} MB in the process of the page"
                ));
                assert!((20..MOST_MB).contains(&mb), "{mb} MB");
            }
            None => tell("the memory of the one file is NOT MEASURED: this system has no /proc"),
        }
        browser
    });
}
