//! Appending to a sitting, also by two devices at once.

use crate::sittings::{not_found, select_events, start_text};
use crate::standing::Fold;
use crate::{Event, EventKind, Id, NewEvent, Standing, Store, StoreFault, json};
use rusqlite::{Connection, TransactionBehavior, params};
use serde_json::Value;

impl Store {
    /// Append an event; returns it once it is safely on disc. The same token again returns the event stored the first time.
    ///
    /// Two devices may write the same sitting; what each had seen (`after_seq`) decides:
    /// a look is refused if weights were moved, something undone, or the sitting closed since;
    /// a move, undo, verdict, closing or reopening is refused if anything but notes came since. Notes are always taken.
    /// A closed sitting takes only notes and the reopening.
    ///
    /// # Errors
    /// [`StoreFault::Conflict`] as said above, or when a token comes again with other content; [`StoreFault::NotFound`];
    /// [`StoreFault::Invalid`] for a bad token, body, `after_seq`, or an undo of what can't be undone; any fault of the disc.
    pub fn append(&self, sitting: &Id, event: &NewEvent) -> Result<Event, StoreFault> {
        event.by.check()?;
        check_token(&event.token)?;
        check_body(&event.body)?;
        let mut connection = self.lock();
        // Immediate: from here on no other program can write, so what is read below still holds at the commit.
        let write = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        if start_text(&write, sitting)?.is_none() {
            return Err(not_found(sitting));
        }
        let events = events_of(&write, sitting)?;
        if let Some(before) = events.iter().find(|before| before.token == event.token) {
            return same_act(before, event);
        }
        check_nothing_between(&events, event)?;
        let mut fold = Fold::default();
        for before in &events {
            fold.apply(before.seq, before.kind, &before.body);
        }
        fold.admits(event.kind, &event.body)?;
        let stored = Event {
            seq: latest_seq(&events) + 1,
            at: event.by.at,
            who: event.by.who.clone(),
            token: event.token.clone(),
            kind: event.kind,
            body: event.body.clone(),
        };
        insert_event(&write, sitting, &stored)?;
        write.commit()?;
        drop(connection);
        self.tell(sitting);
        Ok(stored)
    }

    /// The events of a sitting after number `seq`, in order; none for a sitting that isn't there.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn events_after(&self, sitting: &Id, seq: u32) -> Result<Vec<Event>, StoreFault> {
        const LATER: &str =
            "SELECT sitting, seq, at, who, token, kind, body FROM sitting_events WHERE sitting = ?1 AND seq > ?2 ORDER BY seq";
        Ok(select_events(&self.lock(), LATER, params![sitting.as_str(), seq])?.into_iter().map(|(_, event)| event).collect())
    }

    /// Number of a sitting's latest event; 0 when there is none.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn latest_seq(&self, sitting: &Id) -> Result<u32, StoreFault> {
        const LATEST: &str = "SELECT coalesce(max(seq), 0) FROM sitting_events WHERE sitting = ?1";
        Ok(self.lock().prepare_cached(LATEST)?.query_row([sitting.as_str()], |row| row.get(0))?)
    }

    /// All events of a sitting in order.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn events(&self, sitting: &Id) -> Result<Vec<Event>, StoreFault> {
        let mut connection = self.lock();
        let read = connection.transaction()?;
        if start_text(&read, sitting)?.is_none() {
            return Err(not_found(sitting));
        }
        events_of(&read, sitting)
    }

    /// The events that stand after undos: [`Standing::live`].
    ///
    /// # Errors
    /// As [`Store::events`].
    pub fn live_events(&self, sitting: &Id) -> Result<Vec<Event>, StoreFault> {
        Ok(self.standing(sitting)?.live)
    }

    /// What stands in a sitting now.
    ///
    /// # Errors
    /// As [`Store::events`].
    pub fn standing(&self, sitting: &Id) -> Result<Standing, StoreFault> {
        Ok(Standing::of(&self.events(sitting)?))
    }
}

fn latest_seq(events: &[Event]) -> u32 {
    events.last().map_or(0, |event| event.seq)
}

/// A token that comes again is the same act sent again, unless a form was corrected and sent once more: then taking the old event for an
/// answer would lose the correction.
fn same_act(before: &Event, event: &NewEvent) -> Result<Event, StoreFault> {
    if before.kind == event.kind && before.body == event.body {
        return Ok(before.clone());
    }
    let (seq, kind) = (before.seq, before.kind.as_str());
    Err(StoreFault::Conflict {
        say: format!(
            "This form was stored before with other content (event {seq}, {kind}). To correct that one, undo it and enter it anew."
        ),
        since: vec![before.clone()],
    })
}

fn check_nothing_between(events: &[Event], event: &NewEvent) -> Result<(), StoreFault> {
    let latest = latest_seq(events);
    if event.after_seq > latest {
        let allowed = format!("0 to {latest}");
        return Err(StoreFault::invalid("after_seq", event.after_seq, allowed, "That event doesn't exist yet: reload the sitting."));
    }
    let since: Vec<Event> = events.iter().filter(|before| before.seq > event.after_seq).cloned().collect();
    let in_the_way = |before: &&Event| match event.kind {
        EventKind::Note => false,
        // Another's look leaves the weights where they are, so this one is as true as before.
        EventKind::Look => matches!(before.kind, EventKind::Move | EventKind::Undo | EventKind::Closed),
        _ => before.kind != EventKind::Note,
    };
    let told: Vec<String> = since.iter().filter(in_the_way).map(told).collect();
    if told.is_empty() {
        return Ok(());
    }
    let say = format!("Meanwhile {}, so this {} was not stored.", told.join(", "), event.kind.as_str());
    Err(StoreFault::Conflict { say, since })
}

fn told(event: &Event) -> String {
    let who = if event.who.is_empty() { "somebody" } else { &event.who };
    let did = match event.kind {
        EventKind::Look => "took a look",
        EventKind::Move => "moved weights",
        EventKind::Undo => "took something back",
        EventKind::Verdict => "gave a verdict",
        EventKind::Note => "wrote a note",
        EventKind::Closed => "closed the sitting",
        EventKind::Reopened => "reopened the sitting",
    };
    format!("{who} {did} (event {})", event.seq)
}

pub(crate) fn check_token(token: &str) -> Result<(), StoreFault> {
    if (1..=100).contains(&token.len()) && token.bytes().all(|b| b.is_ascii_graphic()) {
        return Ok(());
    }
    let shown: String = token.chars().filter(|c| !c.is_control()).take(40).collect();
    Err(StoreFault::invalid("token", format!("\"{shown}\""), "1 to 100 visible ASCII characters", "The page makes it up: reload the page."))
}

pub(crate) fn check_body(body: &Value) -> Result<(), StoreFault> {
    if !body.is_object() {
        let shown: String = body.to_string().chars().take(40).collect();
        return Err(StoreFault::invalid("body", shown, "a JSON object", "Put the values into named fields."));
    }
    json::check_value("body", body)
}

pub(crate) fn events_of(connection: &Connection, sitting: &Id) -> Result<Vec<Event>, StoreFault> {
    const ALL: &str = "SELECT sitting, seq, at, who, token, kind, body FROM sitting_events WHERE sitting = ?1 ORDER BY seq";
    Ok(select_events(connection, ALL, [sitting.as_str()])?.into_iter().map(|(_, event)| event).collect())
}

pub(crate) fn insert_event(connection: &Connection, sitting: &Id, event: &Event) -> Result<(), StoreFault> {
    const INSERT: &str = "INSERT INTO sitting_events (sitting, seq, at, who, token, kind, body) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
    let (at, kind, body) = (event.at.to_string(), event.kind.as_str(), json::write(&event.body)?);
    connection.prepare_cached(INSERT)?.execute(params![sitting.as_str(), event.seq, at, event.who, event.token, kind, body])?;
    Ok(())
}
