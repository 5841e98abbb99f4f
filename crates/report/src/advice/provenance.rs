/// How and from what a report was made.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Provenance {
    /// The command line that makes the report again.
    pub command: String,
    /// The start of the command line that shows one run, up to its target and number.
    pub trace_command: String,
    /// Version of the program.
    pub version: String,
    /// Name of the rig file.
    pub rig_file: String,
    /// Name of the targets file.
    pub targets_file: String,
    /// The page with its engine as one file, which begins with this rig and list; `None` for a report without it.
    pub one_file: Option<String>,
}
