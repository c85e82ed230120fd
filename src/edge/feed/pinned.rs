//! TLS to a server that nobody vouches for: its certificate is shown and kept when it is met first, and must be the same ever
//! after. Boats have no authority that signs certificates; most servers sign their own.

use std::sync::{Arc, Mutex, PoisonError};

use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use tokio_rustls::rustls::crypto::{CryptoProvider, ring, verify_tls12_signature, verify_tls13_signature};
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use tokio_rustls::rustls::{ClientConfig, DigitallySignedStruct, Error, SignatureScheme};

use super::Server;
use super::keys::{KeyError, ServerKeys, Sum};

/// Why there is no secure connection.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// It is not the one that was met first.
    #[error(
        "the certificate of {server} is not the one that is kept: it was {kept}, now it is {now}. Another computer may answer \
         in its place, so nothing is taken from it. If the server was set up anew: `nightrode signalk signalk-wss:{server} \
         --forget`"
    )]
    Changed {
        /// The server.
        server: Server,
        /// What is kept.
        kept: Sum,
        /// What it showed.
        now: Sum,
    },
    /// What is kept cannot be read or written.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// Anything else.
    #[error("no secure connection to {server}: {why}")]
    Failed {
        /// The server.
        server: Server,
        /// In the library's words.
        why: String,
    },
}

/// Makes an open connection secure.
///
/// # Errors
/// Why not. A certificate that has changed is refused.
pub(super) async fn secure(
    server: &Server,
    stream: TcpStream,
    keys: &ServerKeys,
) -> Result<TlsStream<TcpStream>, TlsError> {
    let failed = |why: String| TlsError::Failed { server: server.clone(), why };
    let kept = keys.certificate(server)?;
    let provider = Arc::new(ring::default_provider());
    let only = Arc::new(Only { kept, seen: Mutex::default(), provider: Arc::clone(&provider) });
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|error| failed(error.to_string()))?
        .dangerous()
        .with_custom_certificate_verifier(Arc::clone(&only) as Arc<dyn ServerCertVerifier>)
        .with_no_client_auth();
    let name = ServerName::try_from(server.host.clone()).map_err(|error| failed(error.to_string()))?;
    let connected = TlsConnector::from(Arc::new(config)).connect(name, stream).await;
    let seen = *only.seen.lock().unwrap_or_else(PoisonError::into_inner);
    match (connected, kept, seen) {
        (_, Some(kept), Some(now)) if kept != now => {
            Err(TlsError::Changed { server: server.clone(), kept, now })
        }
        (Ok(stream), None, Some(now)) => {
            keys.keep_certificate(server, now).map(|()| stream).map_err(Into::into)
        }
        (Ok(stream), ..) => Ok(stream),
        (Err(error), ..) => Err(failed(error.to_string())),
    }
}

/// Accepts one certificate only, or the first that is shown. Who shows it must prove that he has its key.
#[derive(Debug)]
struct Only {
    kept: Option<Sum>,
    seen: Mutex<Option<Sum>>,
    provider: Arc<CryptoProvider>,
}

impl ServerCertVerifier for Only {
    fn verify_server_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: &ServerName<'_>,
        _: &[u8],
        _: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        let sum = Sum::of(end_entity);
        *self.seen.lock().unwrap_or_else(PoisonError::into_inner) = Some(sum);
        if self.kept.is_some_and(|kept| kept != sum) {
            return Err(Error::General("another certificate".to_owned()));
        }
        Ok(ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        verify_tls12_signature(message, cert, dss, &self.provider.signature_verification_algorithms)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        verify_tls13_signature(message, cert, dss, &self.provider.signature_verification_algorithms)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.provider.signature_verification_algorithms.supported_schemes()
    }
}
