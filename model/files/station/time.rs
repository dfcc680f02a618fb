//! Time stamps of a station: the calendar, and nothing of any clock.

/// A moment of the calendar, with the offset from UTC where the stamp states one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp {
    /// Minutes since the start of 1970 in the stamp's own time.
    pub(super) minutes: i64,
    /// Minutes by which its time is ahead of UTC.
    pub(super) offset_min: Option<i64>,
}

/// Month and hour of the day of minutes since the start of 1970, and the day's number.
pub(super) fn local(minutes: i64) -> (i64, u8, u8) {
    let day = minutes.div_euclid(1440);
    let hour = minutes.rem_euclid(1440) / 60;
    let (_, month, _) = civil(day);
    (day, month, u8::try_from(hour).unwrap_or(0))
}

/// Days from the start of 1970 to a day of the Gregorian calendar (the usual count of 400-year periods that begin in March).
pub(super) fn days(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

/// Year, month and day of a number of days since the start of 1970.
fn civil(days: i64) -> (i64, u8, u8) {
    let days = days + 719_468;
    let era = days.div_euclid(146_097);
    let of_era = days.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * march + 2) / 5 + 1;
    let month = if march < 10 { march + 3 } else { march - 9 };
    let part = |x: i64| u8::try_from(x).unwrap_or(0);
    (
        year + era * 400 + i64::from(month <= 2),
        part(month),
        part(day),
    )
}

/// From the calendar's parts; none where there is no such day or time. Hour 24 is the end of the day.
pub(super) fn from_parts(year: i64, month: i64, day: i64, hour: i64, minute: i64) -> Option<i64> {
    let number = days(year, month, day);
    let (y, m, d) = civil(number);
    let same = (y, i64::from(m), i64::from(d)) == (year, month, day);
    let in_day = (0..24).contains(&hour) && (0..60).contains(&minute) || (hour, minute) == (24, 0);
    (same && in_day).then_some(number * 1440 + hour * 60 + minute)
}

/// Why a stamp is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoStamp {
    /// Day and month could be either way round.
    DayOrMonth,
    /// No such moment.
    Unreadable,
}

/// `2025-03-21T14:00Z`, `2025-03-21 14:00`, `2025-03-21T14:00:00+01:00`.
pub(super) fn stamp(text: &str) -> Result<Stamp, NoStamp> {
    let text = text.trim();
    if text
        .split_once([' ', 'T'])
        .map_or(text, |(date, _)| date)
        .contains('/')
    {
        return Err(NoStamp::DayOrMonth);
    }
    iso(text).ok_or(NoStamp::Unreadable)
}

fn iso(text: &str) -> Option<Stamp> {
    let (date, clock) = text.split_once(['T', ' '])?;
    let mut parts = date.split('-').map(|part| part.parse::<i64>().ok());
    let (year, month, day) = (parts.next()??, parts.next()??, parts.next()??);
    if parts.next().is_some() || !(1..=9999).contains(&year) {
        return None;
    }
    let clock = clock.trim();
    let (clock, offset_min) = if let Some(clock) = clock.strip_suffix(['Z', 'z']) {
        (clock, Some(0))
    } else if let Some(at) = clock.rfind(['+', '-']) {
        let (hours, minutes) = hours_minutes(&clock[at + 1..])?;
        let sign = if clock[at..].starts_with('-') { -1 } else { 1 };
        (&clock[..at], Some(sign * (60 * hours + minutes)))
    } else {
        (clock, None)
    };
    let (hour, minute) = hours_minutes(clock.trim())?;
    let minutes = from_parts(year, month, day, hour, minute)?;
    Some(Stamp {
        minutes,
        offset_min,
    })
}

/// `14:00`, `14:00:00`, `1400`, `14`.
fn hours_minutes(text: &str) -> Option<(i64, i64)> {
    let mut parts = text.split(':');
    let first = parts.next()?;
    match (parts.next(), first.len()) {
        (Some(minutes), _) => Some((first.parse().ok()?, minutes.parse().ok()?)),
        (None, 4) => Some((first[..2].parse().ok()?, first[2..].parse().ok()?)),
        (None, _) => Some((first.parse().ok()?, 0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_calendar_counts_every_day_once() {
        // 1 January 2000 is day 10 957 (Unix time 946 684 800 s).
        assert_eq!(days(2000, 1, 1), 10_957);
        for day in -40_000..60_000 {
            let (y, m, d) = civil(day);
            assert_eq!(days(y, i64::from(m), i64::from(d)), day);
        }
        assert_eq!(from_parts(2025, 2, 29, 0, 0), None);
        assert!(from_parts(2024, 2, 29, 24, 0).is_some());
    }

    #[test]
    fn stamps_are_read_with_and_without_offset() {
        let noon = from_parts(2025, 3, 21, 14, 0).expect("a day");
        for (text, offset_min) in [
            ("2025-03-21T14:00Z", Some(0)),
            ("2025-03-21 14:00", None),
            ("2025-03-21T14:00:00+01:00", Some(60)),
            ("2025-03-21T1400-0530", Some(-330)),
        ] {
            assert_eq!(
                stamp(text),
                Ok(Stamp {
                    minutes: noon,
                    offset_min
                }),
                "{text}"
            );
        }
        assert_eq!(stamp("03/04/2025 14:00"), Err(NoStamp::DayOrMonth));
        assert_eq!(stamp("2025-13-01T00:00"), Err(NoStamp::Unreadable));
        assert_eq!(stamp("noon"), Err(NoStamp::Unreadable));
    }
}
