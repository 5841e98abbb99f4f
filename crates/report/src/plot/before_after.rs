//! What the recommendation saves: expected time per framing of every target, before and after.

use super::axes::Panel;
use super::canvas::in_both_forms;
use super::font::shortened;
use super::form::Form;
use super::legend::{Key, legend};
use super::scale::{Scale, number, plain};
use super::sheet::{Align, MARGIN, Shape, Sheet, Type};
use super::style::{BLUE, DASHED, MUTED, ORANGE, RULE, SOLID, WARNING, size};
use super::{Picture, PlotError};

/// Rows that are drawn.
const MOST_ROWS: usize = 40;

/// Height of a row, and of one with its words above the line.
const ROW: f64 = 23.0;
const NARROW_ROW: f64 = 40.0;

/// Expected times of one target; a time that is not finite stands for a target out of reach.
#[derive(Debug, Clone, PartialEq)]
pub struct BeforeAfter {
    /// Name of the target.
    pub name: String,
    /// Expected time per framing under the present settings \[s\].
    pub before: f64,
    /// Expected time per framing under the recommendation \[s\].
    pub after: f64,
}

impl BeforeAfter {
    /// What is saved \[s\].
    fn saved_s(&self) -> f64 {
        match (plain(self.before), plain(self.after)) {
            (Some(before), Some(after)) => before - after,
            (None, Some(_)) => f64::INFINITY,
            (Some(_), None) => f64::NEG_INFINITY,
            (None, None) => 0.0,
        }
    }
}

/// Draws the targets, those that save most at the top. Of many targets those that change most are shown.
pub fn before_after(rows: &[BeforeAfter]) -> Result<Picture, PlotError> {
    in_both_forms(|form| layout(rows, form))
}

fn layout(rows: &[BeforeAfter], form: Form) -> Sheet {
    let mut shown: Vec<&BeforeAfter> = rows.iter().collect();
    shown.sort_by(|a, b| b.saved_s().abs().total_cmp(&a.saved_s().abs()));
    shown.truncate(MOST_ROWS);
    shown.sort_by(|a, b| b.saved_s().total_cmp(&a.saved_s()));

    let title = "Expected time per framing";
    let mut sheet = Sheet::new(form.width(960.0), 0.0, title);
    let remark = match rows.len() - shown.len() {
        0 => String::new(),
        more => format!("and {more} more that change less"),
    };
    let next = sheet.heading(title, &remark);
    let top = entries(&mut sheet, &shown, next) + 11.0;
    let row_height = form.of(ROW, NARROW_ROW);
    let bottom = top + row_height * shown.len().max(2) as f64 + 6.0;
    sheet.height = bottom + 62.0;

    let look = Type::of(size::TICK);
    let widest = |texts: &mut dyn Iterator<Item = f64>| texts.fold(40.0_f64, f64::max);
    let changes: Vec<String> = shown.iter().map(|r| change(r)).collect();
    let beside = widest(&mut changes.iter().map(|c| look.width(c)));
    let room = match form {
        Form::Wide => 230.0,
        Form::Narrow => sheet.width - 2.0 * MARGIN - beside - 12.0,
    };
    let names: Vec<String> = shown
        .iter()
        .map(|r| shortened(&r.name, look.em, look.weight, room))
        .collect();
    let panel = match form {
        Form::Wide => Panel {
            left: MARGIN + 16.0 + widest(&mut names.iter().map(|n| look.width(n))),
            top,
            right: sheet.width - MARGIN - 18.0 - beside,
            bottom,
        },
        Form::Narrow => Panel {
            left: MARGIN + 6.0,
            top,
            right: sheet.width - MARGIN - 6.0,
            bottom,
        },
    };
    let longest = shown
        .iter()
        .flat_map(|r| [r.before, r.after])
        .filter_map(plain)
        .fold(0.0_f64, f64::max);
    let scale = Scale::even((0.0, 1.04 * longest.max(0.1)), panel.across());
    panel.x_axis(&mut sheet, &scale, Some("expected time per framing [s]"));
    for (i, row) in shown.iter().enumerate() {
        let place = top + row_height * i as f64;
        // On a narrow sheet the words stand above their line.
        let (y, base) = match form {
            Form::Wide => {
                let y = place + 0.5 * ROW + 3.0;
                (y, y + look.drop())
            }
            Form::Narrow => (place + 30.0, place + 17.0),
        };
        let side = look.align(Align::Right);
        match form {
            Form::Wide => sheet.text((panel.left - 12.0, base), &names[i], side),
            Form::Narrow => sheet.text((MARGIN, base), &names[i], look),
        }
        let end = (sheet.width - MARGIN, base);
        sheet.text(end, &changes[i], side.colour(MUTED));
        dumbbell(&mut sheet, &scale, y, row);
    }
    if shown.is_empty() {
        sheet.note(panel.centre(), "no targets");
    }
    sheet
}

fn entries(sheet: &mut Sheet, shown: &[&BeforeAfter], y: f64) -> f64 {
    let mark = |shape, colour, filled| Key::Mark {
        shape,
        colour,
        filled,
    };
    let mut list = vec![
        (mark(Shape::Square, ORANGE, false), "before"),
        (mark(Shape::Disc, BLUE, true), "after"),
    ];
    if shown.iter().any(|r| r.saved_s() < 0.0) {
        let key = Key::Line {
            colour: WARNING,
            width: 2.0,
            dash: DASHED,
            shape: None,
        };
        list.push((key, "slower after"));
    }
    if shown
        .iter()
        .any(|r| plain(r.before).is_none() || plain(r.after).is_none())
    {
        list.push((mark(Shape::Cross, WARNING, true), "out of reach: no time"));
    }
    let list: Vec<_> = list.into_iter().map(|(k, t)| (k, t.to_owned())).collect();
    let ends = (MARGIN + 4.0, sheet.width - MARGIN);
    legend(sheet, &list, ends, y)
}

fn seconds(time_s: f64) -> String {
    match plain(time_s) {
        None => "–".to_owned(),
        Some(t) => number(t, usize::from(t.abs() < 9.95)),
    }
}

fn change(row: &BeforeAfter) -> String {
    format!("{} → {} s", seconds(row.before), seconds(row.after))
}

fn dumbbell(sheet: &mut Sheet, scale: &Scale, y: f64, row: &BeforeAfter) {
    // What has no time lies at the end of the scale, under a mark of its own.
    let end = scale.ends().1;
    let place = |t: f64| scale.at(plain(t).unwrap_or(end));
    let (before, after) = (place(row.before), place(row.after));
    if row.saved_s() < 0.0 {
        sheet.line(&[(before, y), (after, y)], WARNING, 2.0, DASHED);
    } else {
        sheet.line(&[(before, y), (after, y)], RULE, 2.5, SOLID);
    }
    // The dot fits into the square, so that no change shows as both.
    for (time_s, shape, radius, colour, filled) in [
        (row.before, Shape::Square, 6.6, ORANGE, false),
        (row.after, Shape::Disc, 4.2, BLUE, true),
    ] {
        if plain(time_s).is_some() {
            sheet.mark(shape, (place(time_s), y), radius, colour, filled);
        } else {
            sheet.mark(Shape::Cross, (scale.at(end), y), 6.0, WARNING, true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn row(name: &str, before: f64, after: f64) -> BeforeAfter {
        BeforeAfter {
            name: name.to_owned(),
            before,
            after,
        }
    }

    #[test]
    fn the_largest_saving_stands_on_top() -> Result<(), PlotError> {
        let rows = [
            row("worse", 10.0, 20.0),
            row("most", 140.0, 38.4),
            row("out of reach", f64::INFINITY, 40.0),
        ];
        let texts = check(&before_after(&rows)?);
        let place = |wanted: &str| texts.iter().position(|t| t == wanted);
        assert!(place("– → 40 s") < place("140 → 38 s"));
        assert!(place("140 → 38 s") < place("10 → 20 s"));
        assert!(place("slower after").is_some() && place("out of reach: no time").is_some());
        Ok(())
    }

    #[test]
    fn extremes_are_drawn() -> Result<(), PlotError> {
        assert!(check(&before_after(&[])?).contains(&"no targets".to_owned()));
        check(&before_after(&[row("", 0.0, 0.0)])?);
        check(&before_after(&vec![row("same", 5.0, 5.0); 3])?);
        let many = vec![row(&"a long name & <more> ".repeat(40), f64::NAN, 1e300); 10_000];
        let texts = check(&before_after(&many)?);
        assert!(texts.contains(&"and 9960 more that change less".to_owned()));
        Ok(())
    }
}
