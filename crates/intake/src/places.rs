//! Where each trace of a draft stands, for readers that meet readings one by one.

use std::collections::HashMap;

use interstice_glucose::{Draft, Readings, Said, TraceDraft, TraceKind};

/// Places of traces in a draft, by sensor and kind.
#[derive(Default)]
pub(crate) struct Places(HashMap<(String, TraceKind), usize>);

impl Places {
    /// Puts a reading in its trace, which is begun where there is none. `at` in seconds since 1970.
    pub(crate) fn push(
        &mut self,
        draft: &mut Draft,
        sensor: String,
        kind: TraceKind,
        (at, said): (u32, Said),
    ) {
        let level = draft.levels.intern(said);
        let traces = &mut draft.traces;
        let place = *self.0.entry((sensor, kind)).or_insert_with_key(|(sensor, kind)| {
            traces.push(TraceDraft {
                sensor: sensor.clone(),
                kind: *kind,
                readings: Readings::default(),
            });
            traces.len() - 1
        });
        traces[place].readings.push(at, level);
    }
}
