//! A browser without a window: a client over a real connection, with its cookies.

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use http_body_util::BodyExt as _;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::client::legacy::{Client, Error};
use hyper_util::rt::TokioExecutor;

pub(crate) struct Caller {
    client: Client<HttpConnector, Body>,
    home: String,
    cookies: String,
}

pub(crate) struct Said {
    pub(crate) status: StatusCode,
    pub(crate) location: Option<String>,
    pub(crate) text: String,
    cookies: Vec<String>,
}

impl Said {
    pub(crate) fn once(&self, action: &str) -> Option<String> {
        let form = self.text.split(&format!("action=\"{action}\"")).nth(1)?;
        Some(form.split("name=\"once\" value=\"").nth(1)?.split('"').next()?.to_owned())
    }
}

impl Caller {
    pub(crate) async fn signed_in(address: std::net::SocketAddr, (name, pin): (&str, &str)) -> Self {
        let client = Client::builder(TokioExecutor::new()).build_http();
        let mut caller = Self { client, home: format!("http://{address}"), cookies: String::new() };
        let door = caller.get("/sign-in").await.expect("the door");
        let once = door.once("/sign-in").expect("a token");
        caller.cookies = door.cookies.join("; ");
        let body = format!("once={once}&name={}&pin={}", name.replace(' ', "+"), pin.replace(' ', "+"));
        let inside = caller.post("/sign-in", &body).await.expect("an answer");
        assert_eq!(inside.status, StatusCode::SEE_OTHER, "{}", inside.text);
        caller.cookies = inside.cookies.join("; ");
        caller
    }

    pub(crate) async fn get(&self, path: &str) -> Result<Said, Error> {
        self.send(Request::get(format!("{}{path}", self.home)), String::new()).await
    }

    pub(crate) async fn post(&self, path: &str, body: &str) -> Result<Said, Error> {
        let request = Request::post(format!("{}{path}", self.home));
        self.send(request.header(header::CONTENT_TYPE, "application/x-www-form-urlencoded"), body.to_owned()).await
    }

    async fn send(&self, request: axum::http::request::Builder, body: String) -> Result<Said, Error> {
        let request = request.header(header::COOKIE, &self.cookies).body(Body::from(body)).expect("a request");
        let response = self.client.request(request).await?;
        let text = |value: &header::HeaderValue| value.to_str().unwrap_or_default().to_owned();
        let set = response.headers().get_all(header::SET_COOKIE).iter().map(text);
        let cookies = set.filter_map(|set| set.split(';').next().map(str::to_owned)).collect();
        let location = response.headers().get(header::LOCATION).map(text);
        let status = response.status();
        let bytes = response.into_body().collect().await.map(http_body_util::Collected::to_bytes).unwrap_or_default();
        Ok(Said { status, location, text: String::from_utf8_lossy(&bytes).into_owned(), cookies })
    }
}
