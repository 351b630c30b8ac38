//! An answer read from a file piece by piece, so that a large one is never held in memory.

use std::fs::File;
use std::io::Read;
use std::pin::Pin;
use std::task::{Context, Poll};

use axum::body::{Bytes, HttpBody};
use hyper::body::{Frame, SizeHint};

/// Read at once, bytes: from the system's cache in some ten microseconds.
const PIECE: u64 = 64 * 1024;

/// What is left of a file.
#[derive(Debug)]
pub struct FileBody {
    file: File,
    left: u64,
}

impl FileBody {
    /// So many bytes of a file from where it stands.
    pub const fn new(file: File, bytes: u64) -> Self {
        Self { file, left: bytes }
    }
}

impl HttpBody for FileBody {
    type Data = Bytes;
    type Error = std::io::Error;

    fn poll_frame(mut self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, std::io::Error>>> {
        if self.left == 0 {
            return Poll::Ready(None);
        }
        let mut piece = vec![0; self.left.min(PIECE) as usize];
        Poll::Ready(Some(self.file.read_exact(&mut piece).map(|()| {
            self.left -= piece.len() as u64;
            Frame::data(piece.into())
        })))
    }

    fn is_end_stream(&self) -> bool {
        self.left == 0
    }

    fn size_hint(&self) -> SizeHint {
        SizeHint::with_exact(self.left)
    }
}
