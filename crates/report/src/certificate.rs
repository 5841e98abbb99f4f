//! A certificate as the text of its file.

use super::files::ReportError;
use halfturn_engine::advise::Certificate;

/// The comment at the top of the file.
const HEAD: &str = "\
# What halfturn advised, and what it promised. Prove it again, now or after the rig has changed:
#   halfturn advise --check advice.toml [RIG] [TARGETS]
# Put the keys under [change] into the rig file, or let halfturn advise --write do it.
# The promises hold for the model and the rig file, not for what these leave out. Check keep-outs and cables
# by hand and watch the first runs.

";

/// Name of the certificate in the folder of the report.
pub(crate) const CERTIFICATE_FILE: &str = "advice.toml";

/// The text of the file.
///
/// # Errors
/// [`ReportError`] if TOML cannot hold a value, such as a seed beyond 2^63.
pub fn certificate_text(certificate: &Certificate) -> Result<String, ReportError> {
    let body = toml::to_string(certificate)
        .map_err(|e| ReportError::Picture(format!("{CERTIFICATE_FILE}: {e}")))?;
    Ok(format!("{HEAD}{body}"))
}
