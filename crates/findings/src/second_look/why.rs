//! Why there is no second look, as a message.

use interstice_methods::second_look::NoLook;
use interstice_tongue::{Message, message};

/// Why there is no second look.
pub(super) fn no_look(why: NoLook) -> Message {
    match why {
        NoLook::NoReading => message!("look-no-reading"),
        NoLook::Gap => message!("look-no-gap"),
        NoLook::TooEarly { day } => message!("look-no-too-early", day = day),
        NoLook::TooLittle => message!("look-no-too-little"),
        NoLook::TooFewAlike {
            moments,
            days,
            need,
            need_days,
        } => message!(
            "look-no-too-few",
            moments = moments,
            days = days,
            need = need,
            need_days = need_days
        ),
    }
}
