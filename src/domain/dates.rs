//! Dates as people and spreadsheets write them: the ISO form (ISO 8601 calendar date) is taken, every other is answered
//! with what to write.

pub use jiff::civil::Date;

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// A day in the form 2025-04-03.
///
/// # Errors
/// What to write instead, as the end of a sentence.
pub fn parse(text: &str) -> Result<Date, String> {
    if let Some(iso) = iso_parts(text) {
        return iso_date(iso);
    }
    let parts: Vec<&str> =
        text.split(['/', '.', '-', ' ']).filter(|part| !part.is_empty()).collect();
    let numbers: Option<Vec<i16>> = parts.iter().map(|part| part.parse().ok()).collect();
    Err(match (numbers.as_deref(), serial_day(text)) {
        (_, Some(day)) => format!(
            "this looks like a spreadsheet's count of days, perhaps {day}: set the column to text and type the date"
        ),
        (Some(&[a, b, year]), _) if year >= 1000 => advice_for(a, b, year),
        (Some(&[a, b, year]), _) if (0..100).contains(&year) && a < 1000 => {
            advice_for(a, b, 2000 + year)
        }
        (Some(&[year, month, day]), _) if year >= 1000 => match date(year, month, day) {
            Some(day) => format!("write {day}"),
            None => "the calendar has no such day: correct it".to_owned(),
        },
        _ => "write the date in that form".to_owned(),
    })
}

/// Which of day and month a person writes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DayOrder {
    /// 10/6/2025 is 6 October.
    MonthFirst,
    /// 6/10/2025 is 6 October.
    DayFirst,
}

/// A day as people and spreadsheets write it, once it is known which of day and month comes first: 10/6/2025, 6.10.25,
/// 2025/10/6, a spreadsheet's count of days, or any of these forms with a time behind it. `None` where it is no day.
pub fn parse_in_order(text: &str, order: DayOrder) -> Option<Date> {
    let day = text.split(['T', ' ']).next().unwrap_or(text);
    if let Ok(date) = parse(day) {
        return Some(date);
    }
    if let Some(date) = serial_day(day) {
        return Some(date);
    }
    let parts: Vec<i16> = day
        .split(['/', '.', '-'])
        .map(|part| part.parse().ok().filter(|number| *number >= 0))
        .collect::<Option<_>>()?;
    match *parts.as_slice() {
        [year, month, day] if year >= 1800 => date(year, month, day),
        [a, b, year] => {
            let year = if year < 100 { 2000 + year } else { year };
            let (month, day) = if order == DayOrder::MonthFirst { (a, b) } else { (b, a) };
            date(year, month, day).filter(|_| year >= 1800)
        }
        _ => None,
    }
}

/// What may have been typed where a spreadsheet made a day of it: 4-3 and 3-4 for 3-Apr. Empty where it is no such day.
pub fn typed_before(text: &str) -> Vec<String> {
    if !looks_like_turned_number(text) {
        return Vec::new();
    }
    let month_of = |part: &str| {
        let part = part.to_lowercase();
        MONTHS.iter().position(|month| part.starts_with(month)).map(|place| place + 1)
    };
    let plain =
        |part: &str| part.parse::<u32>().map_or(part.to_owned(), |number| number.to_string());
    let parts: Vec<&str> = text.split('-').collect();
    let both = |month: String, day: String| {
        let mut found = vec![format!("{month}-{day}"), format!("{day}-{month}")];
        found.dedup();
        found
    };
    match parts.as_slice() {
        [a, b] => match (month_of(a), month_of(b)) {
            (Some(month), _) => both(month.to_string(), plain(b)),
            (_, Some(month)) => both(month.to_string(), plain(a)),
            _ => Vec::new(),
        },
        [day, month, year] if month_of(month).is_some() => {
            let month = month_of(month).unwrap_or_default();
            vec![format!("{}-{month}-{year}", plain(day)), format!("{month}-{}-{year}", plain(day))]
        }
        [_, month, day] => both(plain(month), plain(day)),
        _ => Vec::new(),
    }
}

/// True where a text looks like a number that a spreadsheet has turned into a date: 3-Apr, Mar-12, 3-Apr-25.
pub fn looks_like_turned_number(text: &str) -> bool {
    let parts: Vec<String> = text.split('-').map(str::to_lowercase).collect();
    let is_month = |part: &String| MONTHS.iter().any(|month| part == month) || part == "sept";
    let is_number = |part: &String| {
        (1..=4).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit())
    };
    match parts.as_slice() {
        [a, b] => (is_number(a) && is_month(b)) || (is_month(a) && is_number(b)),
        [a, b, c] => {
            (is_number(a) && is_month(b) && is_number(c))
                || iso_parts(text).is_some_and(|iso| iso_date(iso).is_ok())
        }
        _ => false,
    }
}

fn iso_parts(text: &str) -> Option<(i16, i8, i8)> {
    let digits = |part: &str, n: usize| part.len() == n && part.bytes().all(|b| b.is_ascii_digit());
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let is_iso = parts.next().is_none() && digits(year, 4) && digits(month, 2) && digits(day, 2);
    is_iso.then_some((year.parse().ok()?, month.parse().ok()?, day.parse().ok()?))
}

fn iso_date((year, month, day): (i16, i8, i8)) -> Result<Date, String> {
    match Date::new(year, month, day) {
        Ok(_) if year < 1800 => Err(format!("the year {year} is too early: correct it")),
        Ok(date) => Ok(date),
        Err(_) if (13..=31).contains(&month) && (1..=12).contains(&day) => Err(format!(
            "there is no month {month}: write {year:04}-{day:02}-{month:02} if the two are swapped"
        )),
        Err(_) => Err("the calendar has no such day: correct it".to_owned()),
    }
}

fn date(year: i16, month: i16, day: i16) -> Option<Date> {
    Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()
}

fn advice_for(a: i16, b: i16, year: i16) -> String {
    match (date(year, b, a), date(year, a, b)) {
        (Some(day_first), Some(month_first)) if day_first != month_first => {
            format!("it can be read in two ways: write {day_first} or {month_first}")
        }
        (Some(only), _) | (None, Some(only)) => format!("write {only}"),
        (None, None) => "the calendar has no such day: correct it".to_owned(),
    }
}

/// The day a spreadsheet's count of days stands for (day 1 is 1 January 1900, with 29 February 1900 counted).
fn serial_day(text: &str) -> Option<Date> {
    let is_count = text.len() == 5 && text.bytes().all(|byte| byte.is_ascii_digit());
    let count: i32 = is_count.then(|| text.parse().ok()).flatten()?;
    let origin = Date::new(1899, 12, 30).ok()?;
    origin.checked_add(jiff::Span::new().try_days(count).ok()?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn iso_days_are_taken() {
        assert_eq!(parse("2024-02-29").unwrap(), Date::constant(2024, 2, 29));
    }

    #[test]
    fn other_forms_are_answered_with_what_to_write() {
        for (text, expected) in [
            ("2025-02-31", "the calendar has no such day"),
            ("2025-02-29", "the calendar has no such day"),
            ("2025-31-02", "no month 31"),
            ("2025-13-04", "write 2025-04-13"),
            ("3/4/2025", "two ways: write 2025-04-03 or 2025-03-04"),
            ("4/4/2025", "write 2025-04-04"),
            ("13/4/2025", "write 2025-04-13"),
            ("4/13/2025", "write 2025-04-13"),
            ("13.4.25", "write 2025-04-13"),
            ("31/2/2025", "no such day"),
            ("2025/4/3", "write 2025-04-03"),
            ("2025-4-3", "write 2025-04-03"),
            ("45750", "perhaps 2025-04-03"),
            ("0205-06-01", "too early"),
            ("3 April 2025", "write the date in that form"),
            ("yesterday", "write the date in that form"),
            ("99999999999/1/2025", "write the date in that form"),
        ] {
            let advice = parse(text).unwrap_err();
            assert!(advice.contains(expected), "{text}: {advice}");
        }
    }

    #[test]
    fn the_order_of_day_and_month_settles_what_can_be_read_in_two_ways() {
        let read = |text, order| parse_in_order(text, order).map(|date| date.to_string());
        for (text, month_first, day_first) in [
            ("10/6/2025", Some("2025-10-06"), Some("2025-06-10")),
            ("13.4.25", None, Some("2025-04-13")),
            ("2025/4/3", Some("2025-04-03"), Some("2025-04-03")),
            ("2025-04-03T08:30:00", Some("2025-04-03"), Some("2025-04-03")),
            ("45750", Some("2025-04-03"), Some("2025-04-03")),
            ("soon", None, None),
            ("1/2", None, None),
        ] {
            assert_eq!(read(text, DayOrder::MonthFirst).as_deref(), month_first, "{text}");
            assert_eq!(read(text, DayOrder::DayFirst).as_deref(), day_first, "{text}");
        }
    }

    #[test]
    fn what_may_have_been_typed_before_is_told() {
        assert_eq!(typed_before("3-Apr"), ["4-3", "3-4"]);
        assert_eq!(typed_before("Mar-12"), ["3-12", "12-3"]);
        assert_eq!(typed_before("2025-04-03"), ["4-3", "3-4"]);
        assert_eq!(typed_before("4-Apr"), ["4-4"]);
        assert_eq!(typed_before("MH-12"), Vec::<String>::new());
    }

    #[test]
    fn numbers_turned_into_dates_are_known() {
        for text in ["3-Apr", "03-apr", "Mar-12", "3-Apr-25", "2025-04-03", "Sept-9"] {
            assert!(looks_like_turned_number(text), "{text}");
        }
        for text in ["12", "MH-0012", "3-A", "mar-sh", "12-34", "0012"] {
            assert!(!looks_like_turned_number(text), "{text}");
        }
    }
}
