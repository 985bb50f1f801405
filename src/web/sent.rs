//! Addresses and forms, taken apart once for every page: whose they are, what they name, and that a form is a fresh one
//! of this session.

use std::sync::Arc;

use axum::Form;
use axum::extract::{FromRequest, FromRequestParts, Path, Request};
use axum::http::request::Parts;

use crate::case::{CaseCode, SetUpCode};

use super::answer::Refusal;
use super::session::{PageSession, Session};
use super::site::Site;

pub(super) use super::typed_fields::{TypedFields, said, text};

/// A form of a page of this session, which was not sent before; it cannot be sent again.
#[derive(Debug)]
pub(super) struct Sent {
    pub(super) session: Arc<Session>,
    pub(super) typed: TypedFields,
}

/// The case that an address names.
#[derive(Debug, Clone, Copy)]
pub(super) struct CasePath(pub(super) CaseCode);

/// The set-up that an address names.
#[derive(Debug, Clone, Copy)]
pub(super) struct SetUpPath(pub(super) SetUpCode);

impl FromRequest<Arc<Site>> for Sent {
    type Rejection = Refusal;

    async fn from_request(request: Request, site: &Arc<Site>) -> Result<Self, Refusal> {
        let (mut parts, body) = request.into_parts();
        let PageSession(session) = PageSession::from_request_parts(&mut parts, site).await?;
        let Form(typed) = Form::<TypedFields>::from_request(Request::from_parts(parts, body), site).await?;
        if !session.forms.take(text(&typed, "once")) {
            return Err(site.refuses(Some(&session), Refusal::not_this_form()).await);
        }
        Ok(Self { session, typed })
    }
}

impl FromRequestParts<Arc<Site>> for CasePath {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refusal> {
        let Path(case) = Path::<String>::from_request_parts(parts, site).await?;
        Ok(Self(CaseCode::parse(&case)?))
    }
}

impl FromRequestParts<Arc<Site>> for SetUpPath {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refusal> {
        let Path((case, number)) = Path::<(String, u16)>::from_request_parts(parts, site).await?;
        Ok(Self(SetUpCode { case: CaseCode::parse(&case)?, number }))
    }
}
