//! The folder of failing scenarios: the examples of failures, and the scenarios to play first next time.

use std::path::{Path, PathBuf};

use super::super::advise::quoted;
use super::super::inputs;
use super::super::reply::Failure;
use halfturn_engine::judge::{Case, Property};
use halfturn_report::judge::{END_NAMES, Margin, Verdict, cases_text, end_name, read_cases};
use halfturn_report::{probe_folder, trace_picture, write_files};

/// Scenarios that failed once.
const REGRESSIONS: &str = "regressions.json";

/// Most scenarios to remember. The oldest are forgotten first.
const MOST_REMEMBERED: usize = 200;

/// The folder.
pub(super) struct Kept<'a> {
    dir: &'a Path,
}

impl<'a> Kept<'a> {
    pub(super) fn new(dir: &'a Path) -> Self {
        Self { dir }
    }

    /// Refuses a folder that cannot be written.
    pub(super) fn probe(&self) -> Result<(), Failure> {
        let names: Vec<String> = Property::ALL
            .iter()
            .flat_map(|p| [format!("{p}.json"), format!("{p}.svg")])
            .chain(END_NAMES.map(margin_file))
            .chain([REGRESSIONS.to_owned()])
            .collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        Ok(probe_folder(self.dir, &names)?)
    }

    fn path(&self) -> PathBuf {
        self.dir.join(REGRESSIONS)
    }

    /// Writes the cycles of a margin, if there are any, for a replay.
    pub(super) fn save_margin(&self, margin: &Margin) -> Result<(), Failure> {
        let ends = margin.as_ref().map_or(&[][..], |ends| &ends[..]);
        let files = ends.iter().filter_map(|end| {
            let (case, _) = end.cycle.as_ref()?;
            let text = cases_text(std::slice::from_ref(case));
            Some((margin_file(end_name(end)), text.into_bytes()))
        });
        let files: Vec<_> = files.collect();
        if !files.is_empty() {
            write_files(self.dir, files)?;
        }
        // A cycle of an earlier session is no longer true.
        for end in ends.iter().filter(|e| e.complete && e.cycle.is_none()) {
            let _ = std::fs::remove_file(self.dir.join(margin_file(end_name(end))));
        }
        Ok(())
    }

    /// The scenarios that failed in earlier sessions.
    pub(super) fn regressions(&self) -> Result<Vec<Case>, Failure> {
        let path = self.path();
        if !path.exists() {
            return Ok(Vec::new());
        }
        let (name, text) = inputs::whole(&path)?;
        Ok(read_cases(&text, &name)?)
    }

    /// Writes the examples of a session and remembers them. Returns in words what it did.
    pub(super) fn save(&self, verdict: &Verdict, remembered: &[Case]) -> Result<String, Failure> {
        let mut all = remembered.to_vec();
        let mut files = Vec::new();
        for example in &verdict.examples {
            if !all.contains(&example.case) {
                all.push(example.case.clone());
            }
            let stem = example.property;
            let text = cases_text(std::slice::from_ref(&example.case));
            files.push((format!("{stem}.json"), text.into_bytes()));
            if let Ok(scenario) = example.case.scenario() {
                let picture = trace_picture(
                    &scenario,
                    &example.played.figures,
                    example.played.trace.rows(),
                    &format!("{stem}, family {}", example.case.family),
                );
                files.push((format!("{stem}.svg"), picture.svg.into_bytes()));
            }
        }
        if files.is_empty() {
            return Ok(String::new());
        }
        let surplus = all.len().saturating_sub(MOST_REMEMBERED);
        let text = cases_text(&all[surplus..]);
        files.push((REGRESSIONS.to_owned(), text.into_bytes()));
        write_files(self.dir, files)?;
        let dir = self.dir.display();
        let first = verdict.examples[0].property;
        let words: Vec<String> = verdict.command.iter().map(|w| quoted(w)).collect();
        Ok(format!(
            "scenarios and pictures: {dir}. The next run begins with them\nagain: halfturn judge --replay {dir}/{first}.json -- {}\n",
            words.join(" ")
        ))
    }
}

fn margin_file(end: &str) -> String {
    format!("margin-{end}.json")
}
