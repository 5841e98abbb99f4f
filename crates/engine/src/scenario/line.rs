//! One line of a CSV table -> its fields.

/// Most fields of a line: more than any table has columns.
const MOST_FIELDS: usize = 100;

/// The fields of a line, without the blanks around them.
///
/// A field may stand in double quotes, which keep its commas. Inside, a doubled quote is one quote. A quote in a
/// field that does not begin with one stays, as in `22d00'52"`.
///
/// # Errors
/// What is wrong with the quotes, in words.
pub(super) fn fields(line: &str) -> Result<Vec<String>, &'static str> {
    let mut fields = Vec::new();
    let mut rest = line.trim();
    loop {
        if fields.len() == MOST_FIELDS {
            return Err("this line has more than 100 fields");
        }
        let (field, after) = match rest.strip_prefix('"') {
            Some(quoted) => in_quotes(quoted)?,
            None => match rest.split_once(',') {
                Some((field, after)) => (field.trim().to_owned(), Some(after)),
                None => (rest.trim().to_owned(), None),
            },
        };
        fields.push(field);
        match after {
            Some(after) => rest = after.trim_start(),
            None => return Ok(fields),
        }
    }
}

/// The field after an opening quote, and the text after the comma behind it; `None` at the end of the line.
fn in_quotes(text: &str) -> Result<(String, Option<&str>), &'static str> {
    let mut field = String::new();
    let mut rest = text;
    loop {
        let (part, after) = rest
            .split_once('"')
            .ok_or("a quote opens a field but none closes it in this line")?;
        field.push_str(part);
        if let Some(more) = after.strip_prefix('"') {
            field.push('"');
            rest = more;
            continue;
        }
        let after = after.trim_start();
        let field = field.trim().to_owned();
        return if after.is_empty() {
            Ok((field, None))
        } else {
            let next = after.strip_prefix(',');
            next.map(|next| (field, Some(next)))
                .ok_or("a comma must follow the quote that closes a field")
        };
    }
}

#[cfg(test)]
mod tests {
    use super::fields;

    #[test]
    fn quotes_keep_commas_and_blanks_around_fields_go() {
        let table: [(&str, &[&str]); 7] = [
            (" A , 1 ", &["A", "1"]),
            ("\"A, B\",1", &["A, B", "1"]),
            ("A, \"B, C\" ,2", &["A", "B, C", "2"]),
            ("\"say \"\"hi\"\"\",", &["say \"hi\"", ""]),
            ("A,22d00'52\"", &["A", "22d00'52\""]),
            (",,", &["", "", ""]),
            ("\"\"", &[""]),
        ];
        for (line, expected) in table {
            assert_eq!(
                fields(line),
                Ok(expected.iter().map(|f| (*f).to_owned()).collect())
            );
        }
        assert!(fields("\"A,1").is_err());
        assert_eq!(fields(&",".repeat(99)).map(|f| f.len()), Ok(100));
        assert!(fields(&",".repeat(100)).is_err());
        assert!(fields("\"A\"B,1").is_err());
    }
}
