//! What the program has to tell a reader: the last thing that happened, and problems that stay until dismissed.

/// One message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Grows by one with each problem; names it when it is dismissed.
    pub number: u64,
    /// Plain words: what failed, what was found, what to do.
    pub text: String,
}

/// Messages in order. Nothing here ever stops the reader's work.
#[derive(Debug, Clone, Default)]
pub struct Notices {
    status: String,
    problems: Vec<Notice>,
    count: u64,
}

/// More problems than this are not kept: the oldest go.
const MAX_PROBLEMS: usize = 20;

impl Notices {
    /// Says what just happened.
    pub fn say(&mut self, text: impl Into<String>) {
        self.status = sentence(&text.into());
    }

    /// Reports a problem. The same text is not kept twice.
    pub fn report(&mut self, text: impl Into<String>) {
        let text = sentence(&text.into());
        self.problems.retain(|notice| notice.text != text);
        self.count += 1;
        self.problems.push(Notice { number: self.count, text });
        let surplus = self.problems.len().saturating_sub(MAX_PROBLEMS);
        self.problems.drain(..surplus);
    }

    /// Takes a problem off the screen.
    pub fn dismiss(&mut self, number: u64) {
        self.problems.retain(|notice| notice.number != number);
    }

    /// What just happened; empty at first.
    pub fn status(&self) -> &str {
        &self.status
    }

    /// Problems not yet dismissed, oldest first.
    pub fn problems(&self) -> &[Notice] {
        &self.problems
    }
}

/// Errors start in lower case inside the program; on screen a message starts like a sentence.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn problems_stay_until_dismissed_and_are_not_doubled() {
        let mut notices = Notices::default();
        notices.report("cannot save");
        notices.report("disk is full");
        notices.report("cannot save");
        let texts: Vec<&str> = notices.problems().iter().map(|n| n.text.as_str()).collect();
        assert_eq!(texts, ["Disk is full", "Cannot save"]);
        let first = notices.problems()[0].number;
        notices.dismiss(first);
        assert_eq!(notices.problems().len(), 1);
        assert_eq!(notices.status(), "");
    }

    #[test]
    fn only_the_newest_problems_are_kept() {
        let mut notices = Notices::default();
        for i in 0..30 {
            notices.report(format!("problem {i}"));
        }
        assert_eq!(notices.problems().len(), MAX_PROBLEMS);
        assert_eq!(notices.problems()[0].text, "Problem 10");
    }
}
