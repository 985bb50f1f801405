//! Stands between a browser and the server, passes everything on, and keeps what the server said.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};

use axum::Router;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{Uri, header};
use axum::response::Response;
use http_body_util::BodyExt as _;
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;

#[derive(Clone)]
struct Passes {
    to: SocketAddr,
    client: Client<HttpConnector, Body>,
    heard: Arc<Mutex<Vec<String>>>,
}

pub(crate) struct Between {
    pub(crate) address: SocketAddr,
    heard: Arc<Mutex<Vec<String>>>,
}

impl Between {
    pub(crate) async fn listen(to: SocketAddr) -> Self {
        let heard = Arc::default();
        let client = Client::builder(TokioExecutor::new()).build_http();
        let passes = Passes { to, client, heard: Arc::clone(&heard) };
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a port");
        let address = listener.local_addr().expect("an address");
        let router = Router::new().fallback(pass).with_state(passes);
        tokio::spawn(async move { axum::serve(listener, router).await });
        Self { address, heard }
    }

    /// Each different answer, without what differs each time: the code of the case, tokens, the time. How often the same
    /// was asked depends on how fast somebody types.
    pub(crate) fn heard(&self, case: &str) -> Vec<String> {
        let heard = self.heard.lock().expect("nobody panicked").clone();
        // An answer without a body says nothing, and is asked for when the connection is lost.
        let said = heard.iter().filter(|answer| !answer.contains("\n204 No Content\n"));
        let each: BTreeSet<String> = said.map(|answer| without_tokens(&answer.replace(case, "CODE"))).collect();
        each.into_iter().collect()
    }
}

async fn pass(State(passes): State<Passes>, mut request: Request) -> Response {
    let asked = format!("{} {}", request.method(), request.uri().path());
    let path = request.uri().path_and_query().map_or("/", |path| path.as_str()).to_owned();
    *request.uri_mut() = format!("http://{}{path}", passes.to).parse::<Uri>().expect("an address");
    let mut response = passes.client.request(request).await.expect("the server answers").map(Body::new);
    let mut says = format!("{asked}\n{}\n", response.status());
    for (name, value) in response.headers() {
        if ![header::DATE, header::SET_COOKIE].contains(name) && name != header::CONTENT_LENGTH {
            says.push_str(&format!("{name}: {}\n", value.to_str().unwrap_or("?")));
        }
    }
    let streams = response.headers().get(header::CONTENT_TYPE).is_some_and(|of| of == "text/event-stream");
    let body = std::mem::take(response.body_mut());
    if streams {
        let heard = Arc::clone(&passes.heard);
        let stream = body.map_frame(move |frame| {
            if let Some(data) = frame.data_ref() {
                let text = String::from_utf8_lossy(data);
                if !text.starts_with(':') {
                    heard.lock().expect("nobody panicked").push(format!("{says}\n{text}"));
                }
            }
            frame
        });
        *response.body_mut() = Body::new(stream);
    } else {
        let bytes = body.collect().await.expect("a body").to_bytes();
        says.push_str(&String::from_utf8_lossy(&bytes));
        passes.heard.lock().expect("nobody panicked").push(says);
        *response.body_mut() = Body::from(bytes);
    }
    response
}

fn without_tokens(text: &str) -> String {
    // The address of a kept answer is drawn by lot.
    let text = match text.split_once("/answer/") {
        Some((before, rest)) => {
            let end = rest.find(|letter: char| !(letter.is_ascii_alphanumeric() || "-_".contains(letter)));
            format!("{before}/answer/{}", &rest[end.unwrap_or(rest.len())..])
        }
        None => text.to_owned(),
    };
    let mut parts = text.split("name=\"once\" value=\"");
    let mut kept = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        kept.push_str(part.split_once('"').map_or("", |(_, rest)| rest));
    }
    kept
}
