//! What can go wrong, in a painter's words, and what is worth a remark though nothing went wrong.

use std::fmt;

/// Whose fault an [`Error`] is, and so what to do about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Kind {
    /// The file is damaged or is not what its first bytes say.
    Malformed,
    /// The file is sound, but of a variety that is not read.
    Unsupported,
    /// The picture is larger than what can be worked on.
    Limit,
    /// A recipe or a call asks for something that makes no sense.
    Parameter,
    /// The work was stopped on request.
    Cancelled,
}

impl Kind {
    /// A stable name for programs: `malformed`, `unsupported`, `limit`, `parameter`, `cancelled`.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Malformed => "malformed",
            Self::Unsupported => "unsupported",
            Self::Limit => "limit",
            Self::Parameter => "parameter",
            Self::Cancelled => "cancelled",
        }
    }
}

/// An error with a sentence that says what is wrong, where, and what to do next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Error {
    kind: Kind,
    message: String,
}

impl Error {
    /// An error of this kind; `message` is a whole sentence for a painter.
    pub fn new(kind: Kind, message: impl Into<String>) -> Self {
        Self { kind, message: message.into() }
    }

    /// What kind of error it is.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// The sentence.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.message
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Error {}

/// The result of anything that can fail.
pub type Result<T> = std::result::Result<T, Error>;

/// A remark that goes with a result: the work went on, but the painter should know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// A stable name for programs, such as `no-ppi`.
    pub code: &'static str,
    /// A whole sentence.
    pub message: String,
}

impl Warning {
    /// A remark with a stable code.
    pub fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }
}

/// An empty vector with room for `len`, or a [`Kind::Limit`] error that says how much memory was wanted and for what.
///
/// # Errors
/// When the memory cannot be had.
pub fn reserved<T>(len: usize, what: &str) -> Result<Vec<T>> {
    let mut v = Vec::new();
    v.try_reserve_exact(len).map_err(|_| no_memory::<T>(len, what))?;
    Ok(v)
}

/// A zeroed vector, or an error as [`reserved`] has it.
///
/// # Errors
/// When the memory cannot be had.
pub fn zeroed<T: Clone + Default>(len: usize, what: &str) -> Result<Vec<T>> {
    let mut v = reserved(len, what)?;
    v.resize(len, T::default());
    Ok(v)
}

/// Makes room for so many more, or gives the error of [`reserved`].
///
/// # Errors
/// When the memory cannot be had.
pub fn reserve<T>(v: &mut Vec<T>, more: usize, what: &str) -> Result<()> {
    v.try_reserve(more).map_err(|_| no_memory::<T>(v.len().saturating_add(more), what))
}

fn no_memory<T>(len: usize, what: &str) -> Error {
    let mb = len as f64 * size_of::<T>() as f64 / 1e6;
    Error::new(
        Kind::Limit,
        format!("There is not enough memory for {what} ({mb:.0} MB). Close other programs, or scan at a lower resolution."),
    )
}
