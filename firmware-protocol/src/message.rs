//! The messages of protocol version 1, and a body's way to and from them.
//!
//! The fields of each payload stand in `hello`, `samples` and `status`, in the order
//! of the wire. Framing is the business of `decoder` and `wire`.
//!
//! Invariant: whoever changes a byte here changes `PROTOCOL.md` too; a test holds both.

use crate::PROTOCOL_VERSION;
use crate::crc32c::crc32c;
use crate::fault::{EncodeError, Fault, Malformed};
use crate::hello::{Hello, SampleRate};
use crate::samples::Samples;
use crate::status::{Refused, Status};
use crate::wire::{FrameWriter, PayloadReader};

/// One message, in either direction.
#[derive(Debug, Clone, Copy, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "there is no allocator to box a hello with, and it is rare"
)]
pub enum Message<'a> {
    /// Board: who I am.
    Hello(Hello),
    /// Board: what I measured.
    Samples(Samples<'a>),
    /// Board: how I am.
    Status(Status),
    /// Board: what I did not do.
    Refused(Refused),
    /// Host: say who you are.
    Identify,
    /// Host: take samples.
    Start,
    /// Host: take no more samples.
    Stop,
    /// Host: take samples at this rate from the next start on.
    SetRate(SampleRate),
}

/// The kind byte of a message. Bit 7 is set in what a host sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// [`Message::Hello`], 0x01.
    Hello,
    /// [`Message::Samples`], 0x02.
    Samples,
    /// [`Message::Status`], 0x03.
    Status,
    /// [`Message::Refused`], 0x04.
    Refused,
    /// [`Message::Identify`], 0x81.
    Identify,
    /// [`Message::Start`], 0x82.
    Start,
    /// [`Message::Stop`], 0x83.
    Stop,
    /// [`Message::SetRate`], 0x84.
    SetRate,
}

/// Writes one whole frame, delimiter at both ends, to the start of `out`; returns its length.
///
/// # Errors
/// [`EncodeError::BufferTooSmall`]; never with [`MAX_FRAME_BYTES`](crate::MAX_FRAME_BYTES).
pub fn encode_frame(message: &Message<'_>, out: &mut [u8]) -> Result<usize, EncodeError> {
    let mut writer = FrameWriter::begin(out)?;
    writer.u8(PROTOCOL_VERSION)?;
    writer.u8(message.kind().code())?;
    match message {
        Message::Hello(hello) => hello.write(&mut writer)?,
        Message::Samples(samples) => samples.write(&mut writer)?,
        Message::Status(status) => status.write(&mut writer)?,
        Message::Refused(refused) => refused.write(&mut writer)?,
        Message::SetRate(rate) => writer.u32(rate.as_millihertz())?,
        Message::Identify | Message::Start | Message::Stop => {}
    }
    writer.finish()
}

/// Reads the message from a body that was freed of delimiters and COBS.
///
/// # Errors
/// [`Fault`]. The checksum is tried first: version, kind and payload of a damaged body
/// are not worth a report.
pub fn decode_body(body: &[u8]) -> Result<Message<'_>, Fault> {
    let too_short = Fault::Malformed(Malformed::BodyTooShort { length: body.len() });
    let Some((checked, &found)) = body.split_last_chunk() else {
        return Err(too_short);
    };
    let [version, kind_code, payload @ ..] = checked else {
        return Err(too_short);
    };
    let (computed, found) = (crc32c(checked), u32::from_le_bytes(found));
    if computed != found {
        return Err(Fault::BadCrc { computed, found });
    }
    if *version != PROTOCOL_VERSION {
        return Err(Fault::UnknownVersion { found: *version });
    }
    let Some(kind) = Kind::from_code(*kind_code) else {
        return Err(Fault::UnknownKind { found: *kind_code });
    };
    read_payload(kind, payload).map_err(Fault::Malformed)
}

fn read_payload(kind: Kind, payload: &[u8]) -> Result<Message<'_>, Malformed> {
    let mut reader = PayloadReader::new(kind, payload);
    let message = match kind {
        Kind::Hello => Message::Hello(Hello::read(&mut reader)?),
        Kind::Samples => Message::Samples(Samples::read(&mut reader)?),
        Kind::Status => Message::Status(Status::read(&mut reader)?),
        Kind::Refused => Message::Refused(Refused::read(&mut reader)?),
        Kind::Identify => Message::Identify,
        Kind::Start => Message::Start,
        Kind::Stop => Message::Stop,
        Kind::SetRate => {
            Message::SetRate(reader.checked(PayloadReader::u32, SampleRate::from_millihertz)?)
        }
    };
    reader.finish()?;
    Ok(message)
}

impl Message<'_> {
    /// The kind of this message.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Hello(_) => Kind::Hello,
            Self::Samples(_) => Kind::Samples,
            Self::Status(_) => Kind::Status,
            Self::Refused(_) => Kind::Refused,
            Self::Identify => Kind::Identify,
            Self::Start => Kind::Start,
            Self::Stop => Kind::Stop,
            Self::SetRate(_) => Kind::SetRate,
        }
    }
}

impl Kind {
    /// Every kind of version 1.
    pub const ALL: [Self; 8] = [
        Self::Hello,
        Self::Samples,
        Self::Status,
        Self::Refused,
        Self::Identify,
        Self::Start,
        Self::Stop,
        Self::SetRate,
    ];

    /// The byte on the wire.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Hello => 0x01,
            Self::Samples => 0x02,
            Self::Status => 0x03,
            Self::Refused => 0x04,
            Self::Identify => 0x81,
            Self::Start => 0x82,
            Self::Stop => 0x83,
            Self::SetRate => 0x84,
        }
    }

    /// The kind of a byte on the wire; `None` for one that version 1 does not know.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.code() == code)
    }

    /// Whether a host sends this kind; otherwise a board does.
    #[must_use]
    pub const fn is_from_host(self) -> bool {
        self.code() & 0x80 != 0
    }

    /// The name used in `PROTOCOL.md`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hello => "Hello",
            Self::Samples => "Samples",
            Self::Status => "Status",
            Self::Refused => "Refused",
            Self::Identify => "Identify",
            Self::Start => "Start",
            Self::Stop => "Stop",
            Self::SetRate => "SetRate",
        }
    }
}
