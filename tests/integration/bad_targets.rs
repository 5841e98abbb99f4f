//! A wrong targets file gets one clear error: file, line, column, value, what is allowed.

use halfturn_engine::scenario::read_targets;

fn targets_error(text: &str) -> String {
    match read_targets(text, "targets.csv") {
        Ok(_) => panic!("accepted: {text}"),
        Err(error) => error.to_string(),
    }
}

#[test]
fn a_targets_error_names_file_line_column_and_value() {
    let range = "must be a number from -360000 to 360000, with a decimal point";
    let table = [
        ("", "targets.csv: holds no target. It needs a header line and at least one row".to_owned()),
        ("name,position_angle_deg\n", "targets.csv: holds no target. It needs a header line and at least one row".to_owned()),
        ("name,pa\nA,1\n", "targets.csv:1: pa: unknown column. Use name, position_angle_deg, ra_deg, dec_deg, ra, dec, object, minutes".to_owned()),
        ("name,position_angle_deg\nA,nan\n", format!("targets.csv:2: position_angle_deg = \"nan\": {range}")),
        ("name,position_angle_deg\nA,1e9\n", format!("targets.csv:2: position_angle_deg = \"1e9\": {range}")),
        ("name,position_angle_deg\n# skip\n\nA,\n", "targets.csv:4: position_angle_deg: must not be empty".to_owned()),
        ("name,position_angle_deg\n,1\n", "targets.csv:2: name: must not be empty".to_owned()),
        ("name,position_angle_deg\nA,1\n# x\nB,2\nA,3\n", "targets.csv:5: name = \"A\": is also the name in line 2. Give each target another name".to_owned()),
        ("name,position_angle_deg\nA,1,2\n", "targets.csv:2: this row has 3 columns, but the header has 2".to_owned()),
        ("name,position_angle_deg,dec_deg\nA,1,91\n", "targets.csv:2: dec_deg = \"91\": must be a number from -90 to 90, with a decimal point".to_owned()),
        ("\n# c\nname\nA\n", "targets.csv:3: position_angle_deg: is missing: add this column to the header".to_owned()),
        ("\n# c\nname,position_angle_deg\n\n# c\nA,1,2\n", "targets.csv:6: this row has 3 columns, but the header has 2".to_owned()),
        ("name,position_angle_deg\n   \n\t# a \"comment\nA\n", "targets.csv:4: this row has 1 column, but the header has 2".to_owned()),
        ("name,position_angle_deg\rA,1\r\rB,x\r", format!("targets.csv:4: position_angle_deg = \"x\": {range}")),
        ("name;position_angle_deg\nA;1\n", "targets.csv:1: name;position_angle_deg: commas must part the fields, not semicolons or tabs. Save the file as CSV with commas and decimal points".to_owned()),
        ("name\tposition_angle_deg\nA\t1\n", "targets.csv:1: name\\u{9}position_angle_deg: commas must part the fields, not semicolons or tabs. Save the file as CSV with commas and decimal points".to_owned()),
        ("name,position_angle_deg\n\"A\nB\",1\n", "targets.csv:2: a quote opens a field but none closes it in this line".to_owned()),
        ("name,position_angle_deg\n\"A\"B,1\n", "targets.csv:2: a comma must follow the quote that closes a field".to_owned()),
        ("name,position_angle_deg,dec\nA,1,+-5\n", "targets.csv:2: dec = \"+-5\": must be like +22:00:52 or 22d00m52s, from -90 to 90".to_owned()),
        ("name,position_angle_deg,dec\nA,1,::5\n", "targets.csv:2: dec = \"::5\": must be like +22:00:52 or 22d00m52s, from -90 to 90".to_owned()),
        ("name,position_angle_deg\nA\u{202e}B,1\n", "targets.csv:2: name = \"A\\u{202e}B\": must be one line of at most 100 characters, without control characters".to_owned()),
        ("name,position_angle_deg\nA\u{7}B,1\n", "targets.csv:2: name = \"A\\u{7}B\": must be one line of at most 100 characters, without control characters".to_owned()),
        ("name,position_angle_deg,ra\nA,1,25:00:00\n", "targets.csv:2: ra = \"25:00:00\": must be like 05:34:31.9 or 5h34m31.9s, from 0 to 24".to_owned()),
    ];
    for (text, expected) in table {
        assert_eq!(targets_error(text), expected);
    }
}

/// Shows (README): the targets file: `name,position_angle_deg`, and `ra_deg,dec_deg` or `ra,dec`, and `minutes`. With:
/// `crates/engine/src/scenario/sexagesimal.rs::the_usual_ways_of_writing_are_read`. Source: common practice, no
/// published source.
/// Shows (files): the targets file. With: `a_targets_error_names_file_line_column_and_value`,
/// `the_number_of_targets_has_an_end`. Source: common practice, no published source.
#[test]
fn targets_are_read_as_spreadsheets_write_them() {
    let text = "\u{feff}# a comment\r\nminutes,position_angle_deg,name,ra,dec\r\n30,-0.5,\"M 81, M 82\",09:55:44,+69:22:00\r\n,720.25,Déjà,5h34m30s,-00:30\r\n";
    let targets = read_targets(text, "t.csv").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(targets[0].name, "M 81, M 82");
    assert_eq!(targets[0].minutes, Some(30.0));
    assert_eq!(targets[0].position_angle_deg, -0.5);
    assert_eq!(targets[1].dec_deg, Some(-0.5));
    assert_eq!(targets[1].ra_deg, Some(83.625));
    assert_eq!(targets[1].minutes, None);
}

#[test]
fn lines_of_blanks_and_indented_comments_are_passed_over() {
    let text = "  \n \t# \"one\nname,position_angle_deg\r\n \r\n# two\rA,1\r  # three\rB,2";
    let targets = read_targets(text, "t.csv").unwrap_or_else(|e| panic!("{e}"));
    let names: Vec<&str> = targets.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(names, ["A", "B"]);
}

/// A hundred thousand targets are read, in linear time; one more is refused.
#[test]
fn the_number_of_targets_has_an_end() {
    let mut text = String::from("name,position_angle_deg\n");
    for i in 0..100_000 {
        text.push_str(&format!("T{i},{i}\n"));
    }
    assert_eq!(read_targets(&text, "t.csv").map(|t| t.len()), Ok(100_000));
    text.push_str("one more,1\n");
    assert_eq!(
        targets_error(&text),
        "targets.csv:100002: too many targets. Give at most 100000"
    );
}
