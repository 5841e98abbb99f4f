//! Joins lines of an SVG that look the same into one path, because broken lines are many strokes.

/// The text before the points of a line.
const START: &str = "<polyline fill=\"none\" ";
const POINTS: &str = " points=\"";
const END: &str = " \"/>";

/// Joins lines that follow each other and look the same.
pub(super) fn joined(svg: &str) -> String {
    let mut out = String::with_capacity(svg.len());
    let mut open: Option<&str> = None;
    for line in svg.lines() {
        let stroke = stroke(line);
        let look = stroke.map(|(look, _)| look);
        if open.is_some() && open != look {
            out.push_str("\"/>\n");
        }
        match stroke {
            Some((look, points)) => {
                if open != Some(look) {
                    out.push_str(&format!("<path fill=\"none\" {look} d=\""));
                }
                out.push('M');
                out.push_str(points);
            }
            None => {
                out.push_str(line);
                out.push('\n');
            }
        }
        open = look;
    }
    if open.is_some() {
        out.push_str("\"/>\n");
    }
    out
}

/// How a line looks, and its points; `None` for anything else.
fn stroke(line: &str) -> Option<(&str, &str)> {
    let (look, points) = line.strip_prefix(START)?.split_once(POINTS)?;
    Some((look, points.strip_suffix(END)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_lines_that_look_the_same_are_joined() {
        let line = |stroke: &str, points: &str| {
            format!("<polyline fill=\"none\" stroke=\"{stroke}\" points=\"{points} \"/>\n")
        };
        let other = "<circle r=\"1\"/>\n";
        let svg = [
            &line("#1", "0,0 1,1"),
            &line("#1", "2,2 3,3"),
            &line("#2", "4,4 5,5"),
            other,
            &line("#2", "6,6 7,7"),
        ];
        let svg: String = svg.into_iter().map(|s| s.to_owned()).collect();
        assert_eq!(
            joined(&svg),
            "<path fill=\"none\" stroke=\"#1\" d=\"M0,0 1,1M2,2 3,3\"/>\n\
             <path fill=\"none\" stroke=\"#2\" d=\"M4,4 5,5\"/>\n\
             <circle r=\"1\"/>\n\
             <path fill=\"none\" stroke=\"#2\" d=\"M6,6 7,7\"/>\n"
        );
        assert_eq!(joined(other), other);
    }
}
