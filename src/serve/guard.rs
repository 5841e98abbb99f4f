//! Who may send requests: checks of `Host` and `Origin`.
//!
//! Another site in the same browser can send requests to this server. With a host name that leads to the loopback
//! address (DNS rebinding) it can read the answers too. Therefore the host must be one of ours. And whatever changes
//! something must come from our own page: by `Origin` (RFC 6454), by `Sec-Fetch-Site` (W3C Fetch Metadata Request
//! Headers), and by a header that no form and no simple cross-site request can set.

use std::net::{IpAddr, SocketAddr};

use axum::http::{HeaderMap, HeaderName, Method, Uri, header};

/// Header in which the page gives its name.
pub(super) const PAGE_HEADER: &str = "x-halfturn-page";

/// Longest name of a page.
const PAGE_LENGTH: usize = 64;

/// The host names of this server.
#[derive(Debug)]
pub(super) struct Origins {
    port: u16,
    names: Vec<String>,
    /// Whether other machines are served too. An IP address in `Host` cannot be a rebound name, and any is accepted
    /// then.
    any_address: bool,
}

impl Origins {
    /// For a server at an address, with further names from the user.
    pub(super) fn new(address: SocketAddr, names: &[String]) -> Self {
        let mut names: Vec<String> = names.iter().map(|n| n.to_ascii_lowercase()).collect();
        names.push("localhost".to_owned());
        Self {
            port: address.port(),
            names,
            any_address: !address.ip().is_loopback(),
        }
    }

    /// Whether the value of a `Host` header is one of ours.
    pub(super) fn permits_host(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port),
            _ => (host, "80"),
        };
        if port != self.port.to_string() {
            return false;
        }
        let bare = name.strip_prefix('[').and_then(|n| n.strip_suffix(']'));
        if let Ok(ip) = bare.unwrap_or(name).parse::<IpAddr>() {
            return (bare.is_some() == ip.is_ipv6()) && (self.any_address || ip.is_loopback());
        }
        self.names.iter().any(|n| n.eq_ignore_ascii_case(name))
    }

    /// What is wrong with a request; `None` if nothing is.
    pub(super) fn fault(
        &self,
        method: &Method,
        uri: &Uri,
        headers: &HeaderMap,
    ) -> Option<&'static str> {
        // Every one of them must be good: a second header is what another reader may go by.
        let all = |name: HeaderName| {
            headers
                .get_all(name)
                .iter()
                .map(|v| v.to_str().unwrap_or("?"))
        };
        let host = all(header::HOST).next().unwrap_or("");
        // An address with a host of its own stands above the header (RFC 9112, section 3.2.2).
        let named = uri.authority().is_none_or(|a| a.as_str() == host);
        if all(header::HOST).count() != 1 || !named || !self.permits_host(host) {
            return Some("the Host header is not the address of this page");
        }
        let changes = !matches!(*method, Method::GET | Method::HEAD);
        if !changes {
            return None;
        }
        // Browsers name the origin of every such request. Without one, no page has sent it.
        let mut site = all(HeaderName::from_static("sec-fetch-site"));
        if all(header::ORIGIN).any(|o| o.strip_prefix("http://") != Some(host))
            || site.any(|s| s != "same-origin" && s != "none")
        {
            return Some("the request comes from another site");
        }
        if page(headers).is_none() {
            return Some(
                "the header X-Halfturn-Page is missing, or is not 1 to 64 letters, digits or -",
            );
        }
        None
    }
}

/// The name of the page that sends the request; `None` without a valid one.
pub(super) fn page(headers: &HeaderMap) -> Option<&str> {
    let name = headers.get(PAGE_HEADER)?.to_str().ok()?;
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    ((1..=PAGE_LENGTH).contains(&name.len()) && name.chars().all(plain)).then_some(name)
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    fn local() -> Origins {
        Origins::new(SocketAddr::from(([127, 0, 0, 1], 7180)), &[])
    }

    #[test]
    fn only_names_of_this_machine_are_hosts() {
        let origins = local();
        for good in [
            "127.0.0.1:7180",
            "localhost:7180",
            "LocalHost:7180",
            "[::1]:7180",
        ] {
            assert!(origins.permits_host(good), "{good}");
        }
        for bad in [
            "rebound.example:7180",
            "127.0.0.1",
            "127.0.0.1:80",
            "127.0.0.1.example:7180",
            "localhost.example:7180",
            "192.0.2.7:7180",
            "[::1]",
            "::1:7180",
            "[127.0.0.1]:7180",
            "localhost:",
            "",
            "localhost:7180:7180",
            "user@localhost:7180",
            "localhost:07180",
            "localhost:+7180",
        ] {
            assert!(!origins.permits_host(bad), "{bad}");
        }
        assert!(
            Origins::new(SocketAddr::from(([127, 0, 0, 1], 80)), &[]).permits_host("localhost")
        );
    }

    #[test]
    fn a_page_for_the_network_takes_addresses_and_given_names_alone() {
        let names = ["observatory.example".to_owned()];
        let origins = Origins::new(SocketAddr::from(([0, 0, 0, 0], 7180)), &names);
        assert!(origins.permits_host("192.0.2.7:7180"));
        assert!(origins.permits_host("observatory.example:7180"));
        assert!(!origins.permits_host("rebound.example:7180"));
    }

    fn headers(pairs: &[(&str, &str)]) -> HeaderMap {
        let pair = |(n, v): &(&str, &str)| {
            (
                HeaderName::from_bytes(n.as_bytes()).expect("a name"),
                HeaderValue::from_str(v).expect("a value"),
            )
        };
        pairs.iter().map(pair).collect()
    }

    #[test]
    fn what_changes_something_must_come_from_the_page() {
        let host = ("host", "127.0.0.1:7180");
        let page = ("x-halfturn-page", "a1-B2");
        let here = Uri::from_static("/api/live");
        let post = |more: &[(&str, &str)]| {
            let mut all = vec![host];
            all.extend(more);
            local()
                .fault(&Method::POST, &here, &headers(&all))
                .is_none()
        };
        assert!(post(&[page]));
        assert!(post(&[page, ("origin", "http://127.0.0.1:7180")]));
        assert!(post(&[page, ("sec-fetch-site", "same-origin")]));
        assert!(!post(&[]));
        assert!(!post(&[("x-halfturn-page", "a b")]));
        assert!(!post(&[("x-halfturn-page", "")]));
        for origin in [
            "http://rebound.example:7180",
            "https://127.0.0.1:7180",
            "http://127.0.0.1:7181",
            "http://localhost:7180",
            "null",
            "",
        ] {
            assert!(!post(&[page, ("origin", origin)]), "{origin}");
        }
        assert!(!post(&[page, ("sec-fetch-site", "cross-site")]));
        assert!(!post(&[page, ("sec-fetch-site", "same-site")]));
        // Two hosts, or none, belong to nobody.
        let mut two = HeaderMap::new();
        two.append("host", HeaderValue::from_static("127.0.0.1:7180"));
        two.append("host", HeaderValue::from_static("127.0.0.1:7180"));
        assert!(local().fault(&Method::GET, &here, &two).is_some());
        assert!(
            local()
                .fault(&Method::GET, &here, &HeaderMap::new())
                .is_some()
        );
        // A second header says no less than the first.
        for pair in [
            [
                ("origin", "http://127.0.0.1:7180"),
                ("origin", "http://rebound.example"),
            ],
            [
                ("sec-fetch-site", "same-origin"),
                ("sec-fetch-site", "cross-site"),
            ],
        ] {
            assert!(!post(&[page, pair[0], pair[1]]), "{pair:?}");
        }
        // Nor does a host in the first line of the request.
        let get = |uri: &'static str| {
            let fault = local().fault(&Method::GET, &Uri::from_static(uri), &headers(&[host]));
            fault.is_none()
        };
        assert!(get("http://127.0.0.1:7180/api/start"));
        assert!(!get("http://rebound.example:7180/api/start"));
    }
}
