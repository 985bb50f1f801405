//! What a check found about a set-up: neutral, with everything a person needs to act on it.

use std::borrow::Cow;

use crate::diagnostic::explained::{CodeFamily, Explanation};
use crate::formulary::Origin;

/// What follows from all findings of one entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing stands in the way.
    Proceed,
    /// A written reason is missing.
    Justify,
    /// At least one finding stops it.
    Stop,
}

impl Verdict {
    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Proceed => "proceed",
            Self::Justify => "justify",
            Self::Stop => "stop",
        }
    }
}

/// How a finding ends. Ordered: a stop weighs most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// To be known; nothing is asked.
    Note,
    /// Asks for a written reason of each person.
    Justify,
    /// No agreed card.
    Stop(Stop),
}

/// Why it stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stop {
    /// Outside the hospital's limits.
    Beyond,
    /// Cannot be computed truthfully.
    Impossible,
}

impl Severity {
    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Justify => "justify",
            Self::Stop(_) => "stop",
        }
    }

    /// With the kind of stop: `stop, beyond`.
    #[must_use]
    pub const fn with_kind(self) -> &'static str {
        match self {
            Self::Stop(Stop::Beyond) => "stop, beyond",
            Self::Stop(Stop::Impossible) => "stop, impossible",
            Self::Note | Self::Justify => self.word(),
        }
    }
}

/// A kind of finding: its stable name, and how it ends. What it means is in `diagnostic::explained`.
#[derive(Debug, PartialEq, Eq)]
pub struct Code {
    /// Kebab-case, stable, unique.
    pub id: &'static str,
    /// How it ends.
    pub severity: Severity,
}

impl Code {
    /// A stop: outside the hospital's limits.
    pub(super) const fn beyond(id: &'static str) -> Self {
        Self { id, severity: Severity::Stop(Stop::Beyond) }
    }

    /// A stop: cannot be computed truthfully.
    pub(super) const fn impossible(id: &'static str) -> Self {
        Self { id, severity: Severity::Stop(Stop::Impossible) }
    }

    /// Needs a written reason.
    pub(super) const fn justify(id: &'static str) -> Self {
        Self { id, severity: Severity::Justify }
    }

    /// A note.
    pub(super) const fn note(id: &'static str) -> Self {
        Self { id, severity: Severity::Note }
    }

    /// What it means, why it matters, and what to do about it.
    #[must_use]
    pub fn explanation(&self) -> Option<&'static Explanation> {
        CodeFamily::Finding.explained(self.id)
    }

    /// A finding of this kind.
    pub(super) fn found(&'static self, field: &'static str, message: impl Into<String>) -> Finding {
        Finding {
            code: self,
            field,
            message: message.into(),
            help: String::new(),
            expected: None,
            working: None,
            source: None,
        }
    }
}

/// Who reads a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Audience {
    /// A person who still reads for themselves, or whose second person does: nothing that could be typed instead.
    Reader,
    /// Two people whose entries agree.
    Agreed,
}

impl Audience {
    /// Who reads what was found about two entries that say the same: where they stop, both people read again.
    #[must_use]
    pub const fn of_pair(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Stop => Self::Reader,
            Verdict::Justify | Verdict::Proceed => Self::Agreed,
        }
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Its kind.
    pub code: &'static Code,
    /// The field of the entry that it is about.
    pub field: &'static str,
    /// What was typed and which limit it crosses; the kind of slip as a question. Never holds a value that could be typed
    /// instead, nor a second rate in mL/h unless it stops.
    pub message: String,
    /// What to do now, without such a value.
    pub help: String,
    /// What is usual or stocked here; read through [`Finding::message_for`] only.
    expected: Option<String>,
    /// The sum behind it, where there is one.
    pub working: Option<String>,
    /// Formulary file, line and published source, where it rests on one.
    pub source: Option<String>,
}

impl Finding {
    pub(super) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }

    pub(super) fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = Some(expected.into());
        self
    }

    pub(super) fn working(mut self, working: impl Into<String>) -> Self {
        self.working = Some(working.into());
        self
    }

    pub(super) fn origin(mut self, origin: &Origin) -> Self {
        self.source = Some(origin.to_string());
        self
    }

    /// What was found, as these people may read it. This is the one place that decides who reads what is usual here.
    #[must_use]
    pub fn message_for(&self, audience: Audience) -> Cow<'_, str> {
        let (message, expected) = (&self.message, &self.expected);
        match (audience, expected) {
            (Audience::Reader, _) | (Audience::Agreed, None) => Cow::Borrowed(message),
            (Audience::Agreed, Some(expected)) if message.ends_with('?') => {
                Cow::Owned(format!("{message} Here {expected}"))
            }
            (Audience::Agreed, Some(expected)) => Cow::Owned(format!("{message}; {expected}")),
        }
    }

    /// How it ends.
    #[must_use]
    pub const fn severity(&self) -> Severity {
        self.code.severity
    }
}
