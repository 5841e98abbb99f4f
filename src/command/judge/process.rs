//! A controller in its own process: starting it, exchanging lines, and ending it with everything that it started.
//!
//! Reading and writing have their own threads. A program that does not read, sends half a line or floods its outputs
//! never holds up the judge. The threads end with the pipes.

use std::ffi::OsString;
use std::io::{BufRead as _, BufReader, Read, Write as _};
use std::process::{Child, ChildStdin, ChildStdout, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use crate::command::monitor::Watch;
use halfturn_engine::judge::protocol::{Line, MOST_LINE_BYTES, event_line, read_answer, shown};
use halfturn_engine::judge::{Answer, Event, FaultKind, Subject, SubjectFault};
use halfturn_engine::sample::Monitor as _;

/// How often a wait looks for Ctrl-C.
const LOOK: Duration = Duration::from_millis(50);

/// How long a program may take to end after the last line.
const GRACE: Duration = Duration::from_secs(2);

/// Most lines on their way. More wait in the pipe.
const MOST_WAITING: usize = 8;

/// Bytes of standard error kept for a message.
const TAIL_BYTES: usize = 2048;

/// The process group of the program that runs; 0 if none does. Global: a second Ctrl-C ends it from the thread of signals.
static GROUP: AtomicU32 = AtomicU32::new(0);

/// Ends the program that runs, with what it has started, because the judge ends without waiting for it.
pub(in crate::command) fn end_program() {
    kill_group(GROUP.load(Ordering::Relaxed));
}

/// A program under test.
pub(super) struct Program<'a> {
    command: &'a [OsString],
    timeout: Duration,
    watch: &'a Watch,
    running: Option<Running>,
}

struct Running {
    child: Child,
    to: Option<SyncSender<String>>,
    from: Receiver<Heard>,
    tail: Arc<Mutex<Vec<u8>>>,
    /// Set once the process has ended and its group with it. Somebody else may use its number from then on.
    status: Option<ExitStatus>,
}

/// What the reader received.
enum Heard {
    Line(Vec<u8>),
    /// A line, and whatever came with it.
    Lines(Vec<u8>),
    TooLong,
    /// The end of the output, with the text after its last line feed.
    End(Vec<u8>),
}

impl<'a> Program<'a> {
    /// Starts the program.
    pub(super) fn start(
        command: &'a [OsString],
        timeout: Duration,
        watch: &'a Watch,
    ) -> std::io::Result<Self> {
        let running = Some(Running::start(command)?);
        Ok(Self {
            command,
            timeout,
            watch,
            running,
        })
    }

    /// Sends the end and waits for the program. Returns a warning if it had to be killed.
    pub(super) fn finish(mut self) -> Option<String> {
        let running = self.running.take()?;
        running.finish()
    }

    fn exchange(&mut self, event: &Event<'_>) -> Result<Answer, SubjectFault> {
        let running = match &mut self.running {
            Some(running) => running,
            none => {
                let started = Running::start(self.command).map_err(|e| {
                    SubjectFault::new(FaultKind::Gone, format!("it does not start again: {e}"))
                })?;
                none.insert(started)
            }
        };
        match running.from.try_recv() {
            Ok(Heard::Line(line)) => {
                return Err(SubjectFault::new(
                    FaultKind::Nonsense,
                    format!("it speaks unasked: {}", shown(&line)),
                ));
            }
            Ok(other) => return running.understand(other),
            Err(_) => {}
        }
        running.tell(event_line(event))?;
        let heard = running.hear(self.timeout, self.watch)?;
        running.understand(heard)
    }
}

impl Subject for Program<'_> {
    fn answer(&mut self, event: &Event<'_>) -> Result<Answer, SubjectFault> {
        self.exchange(event).inspect_err(|_| self.running = None)
    }

    fn reset(&mut self) {
        self.running = None;
    }
}

impl Running {
    fn start(command: &[OsString]) -> std::io::Result<Self> {
        let (program, arguments) = command
            .split_first()
            .ok_or_else(|| std::io::Error::other("no command"))?;
        let mut builder = Command::new(program);
        builder
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        own_group(&mut builder);
        let mut child = builder.spawn()?;
        GROUP.store(child.id(), Ordering::Relaxed);
        let (to, lines) = sync_channel(MOST_WAITING);
        let (heard, from) = sync_channel(MOST_WAITING);
        let tail = Arc::new(Mutex::new(Vec::new()));
        if let Some(input) = child.stdin.take() {
            thread::spawn(move || write_lines(input, &lines));
        }
        if let Some(output) = child.stdout.take() {
            thread::spawn(move || read_lines(output, &heard));
        }
        if let Some(errors) = child.stderr.take() {
            let tail = Arc::clone(&tail);
            thread::spawn(move || keep_tail(errors, &tail));
        }
        Ok(Self {
            child,
            to: Some(to),
            from,
            tail,
            status: None,
        })
    }

    fn tell(&mut self, line: String) -> Result<(), SubjectFault> {
        match self.to.as_ref().map(|to| to.try_send(line)) {
            // A writer that has ended met a closed pipe. The reader will know more.
            Some(Ok(()) | Err(TrySendError::Disconnected(_))) | None => Ok(()),
            Some(Err(TrySendError::Full(_))) => Err(SubjectFault::new(
                FaultKind::Nonsense,
                "it answers without reading its input",
            )),
        }
    }

    fn hear(&mut self, timeout: Duration, watch: &Watch) -> Result<Heard, SubjectFault> {
        let begun = Instant::now();
        loop {
            let left = timeout.saturating_sub(begun.elapsed());
            match self.from.recv_timeout(left.min(LOOK)) {
                Ok(heard) => return Ok(heard),
                Err(RecvTimeoutError::Disconnected) => return Ok(Heard::End(Vec::new())),
                // Its children may hold its output open, and its last words may be on their way.
                Err(RecvTimeoutError::Timeout) if self.ended() => {
                    let last = self.from.recv_timeout(LOOK);
                    return Ok(last.unwrap_or_else(|_| Heard::End(Vec::new())));
                }
                Err(RecvTimeoutError::Timeout) => {}
            }
            if watch.cancelled() {
                return Err(SubjectFault::new(FaultKind::Stopped, "stopped by you"));
            }
            if begun.elapsed() >= timeout {
                return Err(SubjectFault::new(
                    FaultKind::Late,
                    format!(
                        "no line within {} s. Is every answer one line, and flushed?",
                        timeout.as_secs_f64()
                    ),
                ));
            }
        }
    }

    fn understand(&mut self, heard: Heard) -> Result<Answer, SubjectFault> {
        match heard {
            Heard::Line(line) => read_answer(&line),
            Heard::Lines(line) => Err(SubjectFault::new(
                FaultKind::Nonsense,
                format!(
                    "it says more than one line at a time, after {}",
                    shown(&line)
                ),
            )),
            Heard::TooLong => Err(SubjectFault::new(
                FaultKind::Nonsense,
                format!("the line is longer than {MOST_LINE_BYTES} bytes"),
            )),
            Heard::End(rest) => Err(SubjectFault::new(
                FaultKind::Gone,
                self.exit_description(&rest),
            )),
        }
    }

    /// How the program ended, in a sentence.
    fn exit_description(&mut self, rest: &[u8]) -> String {
        let mut text = match self.wait(Duration::from_millis(300)) {
            Some(status) => format!("the program ended ({})", ending(status)),
            None => "the program closed its standard output".to_owned(),
        };
        if !rest.is_empty() {
            text.push_str(&format!(", in mid-line: {}", shown(rest)));
        }
        let tail = self
            .tail
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        let last = String::from_utf8_lossy(&tail);
        if let Some(last) = last.lines().rev().find(|l| !l.trim().is_empty()) {
            text.push_str(&format!("; its last word: {}", shown(last.as_bytes())));
        }
        text
    }

    /// Waits at most this long for the process to end.
    fn wait(&mut self, most: Duration) -> Option<ExitStatus> {
        let begun = Instant::now();
        while !self.ended() && begun.elapsed() < most {
            thread::sleep(Duration::from_millis(2));
        }
        self.status
    }

    /// Whether the process has ended. If so, also ends everything that it started.
    fn ended(&mut self) -> bool {
        if self.status.is_none() {
            self.status = self.child.try_wait().ok().flatten();
            if self.status.is_some() {
                self.end_group();
            }
        }
        self.status.is_some()
    }

    fn end_group(&self) {
        kill_group(self.child.id());
        GROUP.store(0, Ordering::Relaxed);
    }

    fn finish(mut self) -> Option<String> {
        let _ = self.tell(Line::End.text());
        self.to = None; // the writer closes the pipe after its last line
        match self.wait(GRACE) {
            Some(status) if status.success() => None,
            Some(status) => Some(format!(
                "after \"end\" the program ended with {}",
                ending(status)
            )),
            None => Some(format!(
                "the program did not end within {} s after \"end\", so it was killed",
                GRACE.as_secs()
            )),
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if self.status.is_none() {
            self.end_group();
            // Both fail only if it has ended already.
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

fn ending(status: ExitStatus) -> String {
    match status.code() {
        Some(code) => format!("exit code {code}"),
        None => status.to_string(), // names the signal
    }
}

fn write_lines(mut input: ChildStdin, lines: &Receiver<String>) {
    for line in lines {
        if input.write_all(line.as_bytes()).is_err() || input.flush().is_err() {
            return;
        }
    }
}

fn read_lines(output: ChildStdout, heard: &SyncSender<Heard>) {
    let mut reader = BufReader::new(output);
    loop {
        let mut line = Vec::new();
        let most = MOST_LINE_BYTES as u64 + 1;
        let ended = (&mut reader)
            .take(most)
            .read_until(b'\n', &mut line)
            .is_err();
        let whole = line.last() == Some(&b'\n');
        let next = if whole {
            line.pop();
            if reader.buffer().is_empty() {
                Heard::Line(line)
            } else {
                Heard::Lines(line)
            }
        } else if line.len() > MOST_LINE_BYTES {
            Heard::TooLong
        } else {
            Heard::End(line)
        };
        let last = ended || !matches!(next, Heard::Line(_));
        if heard.send(next).is_err() || last {
            return;
        }
    }
}

fn keep_tail(mut errors: impl Read, tail: &Mutex<Vec<u8>>) {
    let mut buffer = [0; 8192];
    while let Ok(n @ 1..) = errors.read(&mut buffer) {
        let mut tail = tail.lock().unwrap_or_else(PoisonError::into_inner);
        tail.extend_from_slice(&buffer[..n]);
        let surplus = tail.len().saturating_sub(TAIL_BYTES);
        tail.drain(..surplus);
    }
}

/// Starts the program in its own group: its children end with it, and Ctrl-C reaches only the judge.
#[cfg(unix)]
fn own_group(builder: &mut Command) {
    use std::os::unix::process::CommandExt as _;
    builder.process_group(0);
}

#[cfg(unix)]
fn kill_group(id: u32) {
    let id = i32::try_from(id).ok();
    if let Some(group) = id.and_then(rustix::process::Pid::from_raw) {
        // Fails if nobody of the group is left.
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
    }
}

#[cfg(not(unix))]
fn own_group(_: &mut Command) {}

#[cfg(not(unix))]
fn kill_group(_: u32) {}
