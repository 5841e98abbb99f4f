//! `halfturn serve` as a process, and plain HTTP to it, as the tests share them.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::Value;

/// Longest wait for any answer.
const PATIENCE: Duration = Duration::from_secs(60);

/// A served page. It ends with this value.
pub(crate) struct Server {
    child: Child,
    /// Host and port.
    pub(crate) address: String,
}

impl Server {
    pub(crate) fn start(dir: &Path, args: &[&str]) -> Self {
        let mut child = Command::new(crate::binary::program())
            .current_dir(dir)
            .args(["serve", "--port", "0"])
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut line = String::new();
        let stdout = child.stdout.take().expect("its output");
        BufReader::new(stdout)
            .read_line(&mut line)
            .expect("the address");
        let address = line
            .strip_prefix("page: http://")
            .and_then(|rest| rest.split('/').next())
            .unwrap_or_else(|| panic!("no address in {line:?}"))
            .to_owned();
        Self { child, address }
    }

    pub(crate) fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    pub(crate) fn connect(&self) -> TcpStream {
        let socket = TcpStream::connect(&self.address).expect("the server listens");
        socket
            .set_read_timeout(Some(PATIENCE))
            .expect("a time limit");
        socket
    }

    /// Sends raw bytes; all that comes back.
    pub(crate) fn raw(&self, bytes: &[u8]) -> Vec<u8> {
        let mut socket = self.connect();
        // The server may have seen enough before all is written.
        let _ = socket.write_all(bytes);
        let mut answer = Vec::new();
        let _ = socket.read_to_end(&mut answer);
        answer
    }

    /// A request as the page makes it: status, headers in lower case, body.
    pub(crate) fn ask(&self, method: &str, path: &str, body: Option<&Value>) -> Answer {
        let text = body.map_or_else(String::new, ToString::to_string);
        self.ask_with(method, path, &[("x-halfturn-page", "test")], &text)
    }

    pub(crate) fn ask_with(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &str,
    ) -> Answer {
        let mut request = format!("{method} {path} HTTP/1.1\r\nconnection: close\r\n");
        if !headers.iter().any(|(name, _)| *name == "host") {
            request.push_str(&format!("host: {}\r\n", self.address));
        }
        if !body.is_empty() && !headers.iter().any(|(name, _)| *name == "content-type") {
            request.push_str("content-type: application/json\r\n");
        }
        for (name, value) in headers {
            request.push_str(&format!("{name}: {value}\r\n"));
        }
        request.push_str(&format!("content-length: {}\r\n\r\n{body}", body.len()));
        Answer::of(&self.raw(request.as_bytes()))
    }

    /// An answer that must be good.
    pub(crate) fn get(&self, path: &str) -> Value {
        self.ask("GET", path, None).good()
    }

    pub(crate) fn post(&self, path: &str, body: &Value) -> Value {
        self.ask("POST", path, Some(body)).good()
    }

    /// Waits until a job is at its end.
    pub(crate) fn wait(&self, id: &str) -> Value {
        for _ in 0..600 {
            let told = self.get(&format!("/api/jobs/{id}"));
            if !["waiting", "running"].contains(&told["phase"].as_str().expect("a phase")) {
                return told;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("the job does not end");
    }

    /// Sends an interrupt, as Ctrl-C does; the exit code, if it ends in time.
    #[cfg(unix)]
    pub(crate) fn interrupt(&mut self, within: Duration) -> Option<i32> {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args(["-INT", &pid]).status();
        assert!(sent.expect("kill runs").success());
        let begun = std::time::Instant::now();
        while begun.elapsed() < within {
            if let Some(status) = self.child.try_wait().expect("its state") {
                return status.code();
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        None
    }

    /// The process still runs.
    pub(crate) fn alive(&mut self) -> bool {
        self.child.try_wait().expect("its state").is_none()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// An HTTP answer.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: String,
}

impl Answer {
    pub(crate) fn of(bytes: &[u8]) -> Self {
        let text = String::from_utf8_lossy(bytes);
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok());
        Self {
            status: status.unwrap_or(0),
            head: head.to_ascii_lowercase(),
            body: body.to_owned(),
        }
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }

    pub(crate) fn good(&self) -> Value {
        assert_eq!(self.status, 200, "{self:?}");
        self.json()
    }
}
