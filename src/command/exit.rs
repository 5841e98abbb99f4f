//! Exit codes.

use std::process::ExitCode;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// 0: done.
    Done,
    /// 1: done, but the answer is bad news, such as an unsafe target.
    BadNews,
    /// 2: the input is wrong, or a file could not be read or written.
    WrongInput,
    /// 130: stopped by the user.
    Interrupted,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Done => 0,
            Exit::BadNews => 1,
            Exit::WrongInput => 2,
            Exit::Interrupted => 130,
        })
    }
}
