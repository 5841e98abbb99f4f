//! `halfturn merge`: shards make the whole, or are refused.

use std::path::Path;

use crate::binary::{folder, halfturn, json};
use crate::sweep::{SMALL, read, succeeds, sweep, whole, write};
use crate::sweep_refusals::refused;

/// Runs every shard on its own and returns the names of the tables.
fn shards(dir: &Path, of: usize) -> Vec<String> {
    (1..=of)
        .map(|number| {
            let name = format!("part-{number}-of-{of}.csv");
            let (shard, threads) = (format!("{number}/{of}"), (1 + number % 3).to_string());
            let own: &[&str] = &["--shard", &shard, "--threads", &threads, "--out", &name];
            succeeds(&sweep(dir, &[SMALL, own]));
            assert!(read(dir, &name).contains(&format!("\n# shard {shard}\n")));
            name
        })
        .collect()
}

fn merge_args<'a>(out: &'a str, parts: &'a [String]) -> Vec<&'a str> {
    let parts = parts.iter().map(String::as_str);
    ["merge", out].into_iter().chain(parts).collect()
}

/// Shows (README): `halfturn merge` makes one table of shards. Source: none: internal consistency.
/// Shows (cluster): shards make the table of one machine, byte for byte. With: `what_is_not_the_whole_is_refused`.
/// Source: none: internal consistency.
#[test]
fn shards_make_the_whole_byte_for_byte() {
    let dir = folder();
    let table = whole(dir.path(), SMALL);
    // With 11 shards three have no cell.
    for of in [1, 2, 3, 8, 11] {
        let mut parts = shards(dir.path(), of);
        let out = format!("merged-{of}.csv");
        succeeds(&halfturn(dir.path(), &merge_args(&out, &parts)));
        assert_eq!(read(dir.path(), &out), table, "{of} shards");
        parts.reverse();
        let mut args = merge_args(&out, &parts);
        args.push("--force");
        succeeds(&halfturn(dir.path(), &args));
        assert_eq!(read(dir.path(), &out), table, "{of} shards, the last first");
    }
}

/// Shows (cluster): the same command again goes on where it ended. Source: none: internal consistency.
#[test]
fn a_cut_shard_is_gone_on_with() {
    let dir = folder();
    let part = &shards(dir.path(), 3)[1];
    let table = read(dir.path(), part);
    for cut in (0..table.len()).step_by(389) {
        write(dir.path(), part, &table[..cut]);
        let own: &[&str] = &["--shard", "2/3", "--resume", "--out", part];
        succeeds(&sweep(dir.path(), &[SMALL, own]));
        assert_eq!(&read(dir.path(), part), &table, "cut at {cut}");
    }
    let other: &[&str] = &["--shard", "3/3", "--resume", "--out", part];
    refused(
        dir.path(),
        &[&["sweep"], SMALL, other],
        "is for shard 2/3, not for shard 3/3",
    );
}

#[test]
fn what_is_not_the_whole_is_refused() {
    let dir = folder();
    let of = |args: &[&str], message: &str| refused(dir.path(), &[args], message);
    whole(dir.path(), SMALL);
    let parts = shards(dir.path(), 3);
    let [one, two, three] = [&parts[0], &parts[1], &parts[2]].map(String::as_str);
    of(&["merge", "out.csv", one, three], "shard 2/3 is missing");
    of(
        &["merge", "out.csv", one],
        "shard 2/3 is missing, and 1 more",
    );
    of(
        &["merge", "out.csv", two, three, one, two],
        "shard 2/3 is there twice",
    );
    of(&["merge", "out.csv", "whole.csv"], "whole.csv: is no shard");
    of(
        &["merge", "out.csv", "nothing.csv"],
        "nothing.csv: cannot be read",
    );
    of(&["merge", "out.csv"], "<SHARDS>");
    of(&["merge", one, one, two, three], "is one of the shards");
    of(
        &["merge", one, one, two, three, "--force"],
        "is one of the shards",
    );
    of(
        &["merge", "whole.csv", one, two, three],
        "whole.csv: exists already",
    );
    of(
        &["merge", "no/out.csv", one, two, three],
        "no/out.csv: cannot be written",
    );
    let halves = shards(dir.path(), 2);
    of(
        &["merge", "out.csv", one, &halves[1]],
        "Merge shards of one sweep",
    );

    let table = read(dir.path(), two);
    let last_line = table.trim_end().rfind('\n').unwrap_or(0) + 1;
    let changed = [
        (
            table[..last_line].to_owned(),
            "is not complete: cell 7 is missing",
        ),
        (
            table[..table.len() - 1].to_owned(),
            "is not complete: cell 7 is missing",
        ),
        (
            table.replace("\n4,", "\n5,"),
            "where cell 4, half-circle belongs",
        ),
        (
            format!("{table}10,0\n"),
            "has more lines after its last cell",
        ),
        (
            table.replace("# seed: 1", "# seed: 2"),
            "don't match their digest",
        ),
        (
            table.replace("halfturn 0", "halfturn 9"),
            "belongs to another sweep than",
        ),
        (
            table.replace("shard 2/3", "shard 4/3"),
            "its shard must be I/N",
        ),
        (table.replace("# shard 2/3\n", ""), "is no shard"),
        (String::new(), "it does not begin like the table of a sweep"),
        (
            "cell,rule\n0,half-circle\n".to_owned(),
            "is not the table of a sweep",
        ),
    ];
    for (text, message) in &changed {
        write(dir.path(), "changed.csv", text);
        of(&["merge", "out.csv", one, "changed.csv", three], message);
    }
    let seed: &[&str] = &["--seed", "2", "--shard", "2/3", "--out", "other.csv"];
    succeeds(&sweep(dir.path(), &[SMALL, seed]));
    of(
        &["merge", "out.csv", one, "other.csv", three],
        "other.csv: belongs to another sweep than part-1-of-3.csv: it has \"seed: 2\", not \"seed: 1\"",
    );
}

#[test]
fn a_merge_draws_the_picture_of_the_whole() {
    let dir = folder();
    succeeds(&sweep(dir.path(), &[SMALL, &["--plot", "whole.svg"]]));
    let parts = shards(dir.path(), 2);
    let mut args = merge_args("merged.csv", &parts);
    args.extend(["--plot", "merged.svg", "--json", "-"]);
    let out = halfturn(dir.path(), &args);
    succeeds(&out);
    assert_eq!(
        read(dir.path(), "merged.svg"),
        read(dir.path(), "whole.svg")
    );
    let found = json(&out);
    assert_eq!(found["shards"], 2);
    assert_eq!(found["rows"].as_array().map(Vec::len), Some(16));
}
