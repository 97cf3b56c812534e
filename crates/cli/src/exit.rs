//! Exit codes, the same for every command, and the errors that carry them.

use std::process::ExitCode;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Done.
    Done = 0,
    /// Done, but something needs the person: a question, a conflict, too little data.
    NeedsYou = 1,
    /// Wrong usage.
    Usage = 2,
    /// Input that cannot be read.
    Input = 3,
    /// The book cannot be used.
    Book = 4,
    /// Anything internal.
    Internal = 5,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit as u8)
    }
}

/// A failure with the exit code it leads to. The message says what failed, where, and what to do next.
#[derive(Debug)]
pub(crate) struct Failure {
    /// Exit code.
    pub(crate) exit: Exit,
    /// What happened.
    pub(crate) error: anyhow::Error,
}

impl Failure {
    /// Wrong usage.
    pub(crate) fn usage(message: impl Into<String>) -> Self {
        Failure {
            exit: Exit::Usage,
            error: anyhow::Error::msg(message.into()),
        }
    }

    /// Anything internal.
    pub(crate) fn internal(error: impl Into<anyhow::Error>) -> Self {
        Failure {
            exit: Exit::Internal,
            error: error.into(),
        }
    }

    /// The book rightly refused what was asked, or cannot be used.
    pub(crate) fn refusal_or_book(error: interstice_desk::BookError) -> Self {
        let exit = if error.is_refusal() {
            Exit::Usage
        } else {
            Exit::Book
        };
        Failure {
            exit,
            error: error.into(),
        }
    }

    /// The book cannot be used.
    pub(crate) fn book(error: impl Into<anyhow::Error>) -> Self {
        Failure {
            exit: Exit::Book,
            error: error.into(),
        }
    }
}

impl From<interstice_desk::DeskError> for Failure {
    fn from(error: interstice_desk::DeskError) -> Self {
        use interstice_desk::DeskError;
        let exit = match &error {
            DeskError::Book(refused) if refused.is_refusal() => Exit::Usage,
            DeskError::Book(_) => Exit::Book,
            DeskError::Request(_) | DeskError::WhichUnit(_) => Exit::Usage,
            _ => Exit::Input,
        };
        Failure {
            exit,
            error: error.into(),
        }
    }
}

impl From<interstice_findings::FindingsError> for Failure {
    fn from(error: interstice_findings::FindingsError) -> Self {
        use interstice_findings::FindingsError;
        let exit = match &error {
            FindingsError::Book(_) => Exit::Book,
            FindingsError::Window(_) | FindingsError::NoSensor(_) => Exit::Usage,
            _ => Exit::NeedsYou,
        };
        Failure {
            exit,
            error: error.into(),
        }
    }
}

/// What a command answers.
pub(crate) type Answer = Result<Exit, Failure>;
