//! `halfturn serve`: the same calls behind a local web page.

use std::io::Write as _;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use clap::Args;
use tokio::sync::watch;

use super::args::{Common, whole};
use super::inputs;
use super::monitor::on_ctrl_c;
use super::page_start::page_start;
use super::reply::{Failure, Reply};
use super::streams::complain;
use crate::serve::{ServeError, Settings, serve as serve_page};

/// The port where the user says nothing: links to the page then outlast the program.
const PORT: u16 = 7180;

/// Show a local page: change the rig and see verdicts, maps and advice.
#[derive(Debug, Args)]
pub(super) struct ServeArgs {
    /// Rig file to begin with [default: the built-in demo rig].
    rig: Option<PathBuf>,
    /// Targets files to begin with [default: the built-in demo targets].
    targets: Vec<PathBuf>,
    /// Port to listen on (0 for a free one).
    #[arg(long, value_name = "N", default_value_t = PORT, value_parser = whole::<u16>(0, u16::MAX), allow_negative_numbers = true)]
    port: u16,
    /// Open the page in your browser.
    #[arg(long)]
    open: bool,
    /// Address to listen on. With any but a loopback address others in the network can use the page.
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    listen: IpAddr,
    /// Another host name of the page, besides localhost (may repeat).
    #[arg(long = "host-name", value_name = "NAME", value_parser = host_name)]
    host_names: Vec<String>,
}

/// A name without port, as in an address.
fn host_name(given: &str) -> Result<String, String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-.".contains(c);
    if given.is_empty() || given.len() > 253 || !given.chars().all(plain) {
        return Err("must be a host name without port, of letters, digits, - and .".to_owned());
    }
    Ok(given.to_owned())
}

/// Serves until Ctrl-C. The address goes to standard output at once, unlike the answers of other commands.
pub(super) fn serve(common: &Common, args: &ServeArgs) -> Result<Reply, Failure> {
    if common.json.is_some() {
        return Err(Failure::Argument(
            "--json: serve has no result. Use it with advise, batch, trace or sweep".to_owned(),
        ));
    }
    let (rig, rig_text) = inputs::rig_and_text(args.rig.as_deref(), &common.set)?;
    let targets = inputs::targets(&args.targets, false)?;
    let start = page_start(
        common,
        (rig.value, rig_text, args.rig.as_deref()),
        (targets, &args.targets),
    )?;
    let (stopping, stop) = watch::channel(false);
    on_ctrl_c(move || {
        let _ = stopping.send(true);
    });
    let settings = Settings {
        listen: SocketAddr::new(args.listen, args.port),
        names: args.host_names.clone(),
        threads: common.threads.map_or(0, usize::from),
        start,
    };
    let ready = |address: SocketAddr| {
        if !args.listen.is_loopback() && !common.quiet {
            complain(&format!(
                "warning: --listen {}: everybody who reaches this machine can use the page and load its processor. \
                 It has no encryption and no password",
                args.listen
            ));
        }
        let url = format!("http://{}/", shown(address));
        let mut out = std::io::stdout().lock();
        // Nobody may be listening; the page is there all the same.
        let _ = writeln!(out, "page: {url} (Ctrl-C ends it)").and_then(|()| out.flush());
        if args.open
            && let Err(error) = browse(&url)
        {
            complain(&format!(
                "warning: --open: the browser does not start: {error}. Open the address above yourself"
            ));
        }
    };
    serve_page(settings, stop, ready)?;
    Ok(Reply::done(String::new()))
}

/// Opens an address in the browser of the user, by the program of the system that does so.
fn browse(url: &str) -> std::io::Result<()> {
    let command: &[&str] = if cfg!(windows) {
        &["rundll32", "url.dll,FileProtocolHandler"]
    } else if cfg!(target_os = "macos") {
        &["open"]
    } else {
        &["xdg-open"]
    };
    let mut child = Command::new(command[0])
        .args(&command[1..])
        .arg(url)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()?;
    // It may stay as long as the browser; its end is awaited so that nothing is left of it.
    std::thread::spawn(move || child.wait());
    Ok(())
}

/// The address to go to: one that means every address of the machine leads nowhere.
fn shown(address: SocketAddr) -> SocketAddr {
    let local: IpAddr = match address.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    SocketAddr::new(local, address.port())
}

impl From<ServeError> for Failure {
    fn from(error: ServeError) -> Self {
        Self::Argument(match &error {
            ServeError::Listen { .. } => format!("{error}. --port 0 takes a free port"),
            ServeError::Threads(_) => error.to_string(),
        })
    }
}
