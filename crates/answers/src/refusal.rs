//! An error answer to a request, as JSON.

use serde_json::{Value, json};

use halfturn_engine::rig::InputError;

/// An error answer.
#[derive(Debug)]
pub struct Refusal {
    /// As HTTP has it (RFC 9110).
    pub status: u16,
    message: String,
    /// The fault in the user's input; `None` if something else is wrong.
    input: Option<Box<InputError>>,
}

impl Refusal {
    /// With its status and its words.
    pub fn new(status: u16, message: impl Into<String>) -> Self {
        Self {
            status,
            message: message.into(),
            input: None,
        }
    }

    /// Nobody answers at that path.
    #[must_use]
    pub fn nothing_here() -> Self {
        Self::new(404, "nothing here")
    }

    /// An error of the program.
    pub fn broken(message: impl Into<String>) -> Self {
        Self::new(500, message)
    }

    /// The page asked for more than it may.
    pub(crate) fn too_much(message: impl Into<String>) -> Self {
        Self::new(422, message)
    }

    /// As the page reads it.
    #[must_use]
    pub fn json(&self) -> Value {
        let mut error = json!({ "message": self.message });
        if let Some(input) = &self.input {
            error["key"] = json!(input.key);
            error["value"] = json!(input.value);
            error["allowed"] = json!(input.allowed);
            error["line"] = json!(input.line);
        }
        json!({ "error": error })
    }
}

impl From<InputError> for Refusal {
    fn from(error: InputError) -> Self {
        Self {
            status: 422,
            message: error.to_string(),
            input: Some(Box::new(error)),
        }
    }
}
