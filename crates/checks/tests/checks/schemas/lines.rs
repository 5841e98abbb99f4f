//! The lines of the protocol of `judge`, in both directions.

use halfturn_engine::judge::protocol::{Line, event_line, read_answer};
use halfturn_engine::judge::{
    Answer, Base, Event, Family, InProcess, Reference, Subject, SubjectFault, cases, play,
};
use halfturn_engine::rig::Rule;
use serde_json::{Value, json};

use super::{Document, say, validator};

/// A controller that keeps what it is told and what it says, as lines.
struct Overheard<S> {
    inner: S,
    told: Vec<String>,
    said: Vec<Value>,
}

impl<S: Subject> Subject for Overheard<S> {
    fn answer(&mut self, event: &Event<'_>) -> Result<Answer, SubjectFault> {
        self.told.push(event_line(event));
        let answer = self.inner.answer(event)?;
        self.said.push(match &answer {
            Answer::Move(drive_deg) => json!({ "do": "move", "drive_deg": drive_deg }),
            Answer::Solve => json!({ "do": "solve" }),
            Answer::Done => json!({ "do": "done" }),
            Answer::GiveUp(why) => json!({ "do": "give-up", "why": why }),
        });
        Ok(answer)
    }

    fn reset(&mut self) {
        self.inner.reset();
    }
}

#[test]
fn every_line_of_a_session_keeps_to_its_schema() {
    let mut subject = Overheard {
        inner: InProcess::new(|| Reference::new(Rule::FoldOnce)),
        told: vec![Line::End.text()],
        said: Vec::new(),
    };
    for case in cases(&Base::Graded, Family::ALL, None, 1, 280) {
        play(&case, &mut subject).unwrap_or_else(|e| panic!("{e}"));
    }
    let event = validator("judge-event");
    let mut kinds = std::collections::BTreeMap::new();
    for line in &subject.told {
        let value: Value = serde_json::from_str(line).expect("JSON");
        assert!(event.is_valid(&value), "{line}");
        let kind = format!("{} {}", value["event"], value["travel"]);
        kinds.entry(kind).or_insert(value);
    }
    assert_eq!(kinds.len(), 7, "{:?}", kinds.keys());
    let mut refused = 0;
    for value in kinds.into_values() {
        // Unknown keys are left alone; every other change is refused.
        for key in value.as_object().expect("an object").keys() {
            let mut changed = value.clone();
            changed[key] = json!([1]);
            assert!(!event.is_valid(&changed), "{changed}");
            changed.as_object_mut().expect("an object").remove(key);
            assert!(!event.is_valid(&changed), "{changed}");
            refused += 2;
        }
        let mut more = value.clone();
        more["later"] = json!(1);
        assert!(event.is_valid(&more), "{more}");
    }
    for said in &subject.said {
        let (schema, label) = ("judge-answer", "a session".to_owned());
        Document {
            schema,
            label,
            value: said.clone(),
        }
        .check();
        let read = read_answer(said.to_string().as_bytes());
        assert!(read.is_ok(), "{said}: {read:?}");
    }
    say(&format!(
        "lines of judge: {} told, {} said, {refused} changes refused",
        subject.told.len(),
        subject.said.len()
    ));
}

/// What is JSON is taken by the reader and by the schema, or by neither.
#[test]
fn reader_and_schema_agree_on_answers() {
    let lines = [
        r#"{"do":"move","drive_deg":-0.0}"#,
        r#"{"drive_deg":360,"do":"move","note":[1]}"#,
        r#"{"do":"move","drive_deg":1e300}"#,
        r#"{"do":"solve"}"#,
        r#"{"do":"solve","drive_deg":"x"}"#,
        r#"{"do":"done","why":7}"#,
        r#"{"do":"give-up"}"#,
        r#"{"do":"give-up","why":"fog"}"#,
        r#"{"do":"give-up","why":7}"#,
        r#"{"do":"move","drive_deg":null}"#,
        r#"{"do":"move","drive_deg":"inf"}"#,
        r#"{"do":"move","drive_deg":"3"}"#,
        r#"{"do":"move","drive_deg":[3]}"#,
        r#"{"do":"move"}"#,
        r#"{"do":"jump"}"#,
        r#"{"do":"Move","drive_deg":3}"#,
        r#"{"do":1}"#,
        r#"{}"#,
        r#"[]"#,
        r#""solve""#,
    ];
    let (mut taken, schema) = (0, validator("judge-answer"));
    for line in lines {
        let value: Value = serde_json::from_str(line).expect("JSON");
        let read = read_answer(line.as_bytes());
        assert_eq!(schema.is_valid(&value), read.is_ok(), "{line}: {read:?}");
        taken += usize::from(read.is_ok());
    }
    assert_eq!(taken, 9);
}
