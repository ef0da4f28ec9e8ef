//! Weighed options as plain text, at most 80 columns.

use super::format::{self, plain};
use super::model::{Interval, OptionRow};
use super::page::{Page, one_line};
use super::weighing::Weighing;

/// The whole weighing: whether the replay holds, the rows, the advice.
pub fn render(weighing: &Weighing) -> String {
    let mut page = Page::default();
    page.paragraph(&weighing.reproduced.why, "");
    if weighing.options.is_empty() {
        return page.text;
    }
    if let Some(season) = &weighing.season {
        page.paragraph(season, "Lived in ");
    }
    page.heading("WHAT WOULD CHANGE");
    rows(
        &mut page,
        &weighing.options,
        weighing.recommended.as_deref(),
    );
    page.heading("ADVICE");
    page.paragraph(&weighing.why, "");
    page.text
}

/// The rows as a table, then their remarks.
pub(super) fn rows(page: &mut Page, options: &[OptionRow], recommended: Option<&str>) {
    page.line("     option                    change   unserved,      full lowest nights  held");
    page.line("                                        Wh a day       days charge  below  back");
    for (i, option) in options.iter().enumerate() {
        let mark = if recommended == Some(option.name.as_str()) {
            '>'
        } else {
            ' '
        };
        let change = match (&option.refused, i) {
            (Some(_), _) => "refused",
            (None, 0) => "-",
            _ => option.change.as_str(),
        };
        page.line(&format!(
            "{mark}{:>2}  {:<25} {change:<8} {:<14} {:>4} {:>6} {:>6} {:>5}",
            i + 1,
            cut(&option.name, 25),
            option
                .unserved_wh_per_day
                .as_ref()
                .map_or("-".to_owned(), range),
            option
                .full_share
                .map_or("-".to_owned(), |s| plain(&format::percent(s))
                    .replace(' ', "")),
            option
                .lowest_soc_pct
                .map_or("-".to_owned(), |s| format!("{s:.0}%")),
            option
                .nights_below_reserve
                .map_or("-".to_owned(), |n| format!("{n:.0}")),
            option
                .held_back_wh_per_day
                .map_or("-".to_owned(), |w| format!("{w:.0}")),
        ));
    }
    page.blank();
    for (i, option) in options.iter().enumerate() {
        let mut remark = option.note.clone();
        if option.name.chars().count() > 25 {
            let name = one_line(&option.name);
            remark = if remark.is_empty() {
                name
            } else {
                format!("{name}: {remark}")
            };
        }
        if let Some(cost) = option.cost {
            remark.push_str(&format!(
                "{}cost {cost}",
                if remark.is_empty() { "" } else { "; " }
            ));
        }
        page.paragraph(&remark, &format!("{:>3}  ", i + 1));
    }
    page.paragraph(
        "Ranges hold 90 % of the draws: the days in another order, and whatever is not known for sure. \"Unserved\" is load that would take the bank below its reserve or the cut-off; \"held back\" is sun the bank did not take, Wh a day.",
        "",
    );
}

/// Value and range, close: `120 (40-260)`.
fn range(interval: &Interval) -> String {
    let whole = |v: f64| plain(&format::significant(v.max(0.0), 2)).replace(' ', "");
    if interval.high - interval.low < 1.0 {
        return whole(interval.value.round());
    }
    format!(
        "{} ({}-{})",
        whole(interval.value.round()),
        whole(interval.low.round()),
        whole(interval.high.round())
    )
}

fn cut(name: &str, width: usize) -> String {
    let name = one_line(name);
    if name.chars().count() <= width {
        return name;
    }
    let kept: String = name.chars().take(width - 2).collect();
    format!("{}..", kept.trim_end())
}
