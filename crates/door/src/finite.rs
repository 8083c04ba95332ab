//! Proof that a result holds no NaN and no infinity, before serde_json would write it as `null`.
//!
//! In: any serialisable output. Out: nothing, or the path of the first number that is not finite. serde_json turns
//! NaN into `null` without a word, which a reader takes as "absent"; so the output is walked by a serializer of our
//! own that keeps nothing.

use serde::Serialize;
use serde::ser;
use std::fmt;

/// Walk `value`; the error is the path of the first number that is not finite.
pub(crate) fn check_finite<T: Serialize>(value: &T) -> Result<(), NotFinite> {
    value.serialize(Walk)
}

/// The path of a number that is not finite, innermost part first while it is being built.
#[derive(Debug)]
pub(crate) struct NotFinite(pub(crate) String);

impl NotFinite {
    fn inside(self, outer: &str) -> Self {
        Self(match self.0.as_str() {
            "" => outer.to_owned(),
            inner if inner.starts_with('[') => format!("{outer}{inner}"),
            inner => format!("{outer}.{inner}"),
        })
    }
}

impl fmt::Display for NotFinite {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}
impl std::error::Error for NotFinite {}
impl ser::Error for NotFinite {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self(message.to_string())
    }
}

#[derive(Clone, Copy)]
struct Walk;

macro_rules! nothing_to_check {
    ($($method:ident($type:ty)),*) => { $(fn $method(self, _: $type) -> Result<(), NotFinite> { Ok(()) })* };
}

impl ser::Serializer for Walk {
    type Ok = ();
    type Error = NotFinite;
    type SerializeSeq = Items;
    type SerializeTuple = Items;
    type SerializeTupleStruct = Items;
    type SerializeTupleVariant = Items;
    type SerializeMap = Fields;
    type SerializeStruct = Fields;
    type SerializeStructVariant = Fields;

    nothing_to_check!(
        serialize_bool(bool),
        serialize_i8(i8),
        serialize_i16(i16),
        serialize_i32(i32),
        serialize_i64(i64),
        serialize_u8(u8),
        serialize_u16(u16),
        serialize_u32(u32),
        serialize_u64(u64),
        serialize_char(char),
        serialize_str(&str),
        serialize_bytes(&[u8]),
        serialize_unit_struct(&'static str)
    );
    fn serialize_f32(self, v: f32) -> Result<(), NotFinite> {
        self.serialize_f64(f64::from(v))
    }
    fn serialize_f64(self, v: f64) -> Result<(), NotFinite> {
        if v.is_finite() { Ok(()) } else { Err(NotFinite(String::new())) }
    }
    fn serialize_none(self) -> Result<(), NotFinite> {
        Ok(())
    }
    fn serialize_some<T: Serialize + ?Sized>(self, v: &T) -> Result<(), NotFinite> {
        v.serialize(self)
    }
    fn serialize_unit(self) -> Result<(), NotFinite> {
        Ok(())
    }
    fn serialize_unit_variant(self, _: &'static str, _: u32, _: &'static str) -> Result<(), NotFinite> {
        Ok(())
    }
    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, v: &T) -> Result<(), NotFinite> {
        v.serialize(self)
    }
    fn serialize_newtype_variant<T: Serialize + ?Sized>(self, _: &'static str, _: u32, name: &'static str, v: &T) -> Result<(), NotFinite> {
        v.serialize(self).map_err(|e| e.inside(name))
    }
    fn serialize_seq(self, _: Option<usize>) -> Result<Items, NotFinite> {
        Ok(Items(0))
    }
    fn serialize_tuple(self, _: usize) -> Result<Items, NotFinite> {
        Ok(Items(0))
    }
    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Items, NotFinite> {
        Ok(Items(0))
    }
    fn serialize_tuple_variant(self, _: &'static str, _: u32, _: &'static str, _: usize) -> Result<Items, NotFinite> {
        Ok(Items(0))
    }
    fn serialize_map(self, _: Option<usize>) -> Result<Fields, NotFinite> {
        Ok(Fields)
    }
    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Fields, NotFinite> {
        Ok(Fields)
    }
    fn serialize_struct_variant(self, _: &'static str, _: u32, _: &'static str, _: usize) -> Result<Fields, NotFinite> {
        Ok(Fields)
    }
}

/// Items of a list, counted for the path.
struct Items(usize);

impl Items {
    fn item<T: Serialize + ?Sized>(&mut self, v: &T) -> Result<(), NotFinite> {
        v.serialize(Walk).map_err(|e| e.inside(&format!("[{}]", self.0)))?;
        self.0 += 1;
        Ok(())
    }
}

macro_rules! items {
    ($($trait:ident::$method:ident),*) => { $(impl ser::$trait for Items {
        type Ok = ();
        type Error = NotFinite;
        fn $method<T: Serialize + ?Sized>(&mut self, v: &T) -> Result<(), NotFinite> { self.item(v) }
        fn end(self) -> Result<(), NotFinite> { Ok(()) }
    })* };
}
items!(
    SerializeSeq::serialize_element,
    SerializeTuple::serialize_element,
    SerializeTupleStruct::serialize_field,
    SerializeTupleVariant::serialize_field
);

/// Fields of a struct or a map.
struct Fields;

macro_rules! fields {
    ($($trait:ident),*) => { $(impl ser::$trait for Fields {
        type Ok = ();
        type Error = NotFinite;
        fn serialize_field<T: Serialize + ?Sized>(&mut self, name: &'static str, v: &T) -> Result<(), NotFinite> {
            v.serialize(Walk).map_err(|e| e.inside(name))
        }
        fn end(self) -> Result<(), NotFinite> { Ok(()) }
    })* };
}
fields!(SerializeStruct, SerializeStructVariant);

impl ser::SerializeMap for Fields {
    type Ok = ();
    type Error = NotFinite;
    fn serialize_key<T: Serialize + ?Sized>(&mut self, _: &T) -> Result<(), NotFinite> {
        Ok(())
    }
    fn serialize_value<T: Serialize + ?Sized>(&mut self, v: &T) -> Result<(), NotFinite> {
        v.serialize(Walk)
    }
    fn end(self) -> Result<(), NotFinite> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Serialize)]
    struct Out {
        list: Vec<Inner>,
        pair: [f64; 2],
    }
    #[derive(Serialize)]
    struct Inner {
        maybe_mm: Option<f64>,
    }

    #[test]
    fn the_first_number_that_is_not_finite_is_named() {
        let out = |maybe_mm, y| Out { list: vec![Inner { maybe_mm: None }, Inner { maybe_mm }], pair: [0.0, y] };
        assert!(check_finite(&out(Some(1.0), 2.0)).is_ok());
        assert_eq!(check_finite(&out(Some(f64::NAN), 2.0)).unwrap_err().0, "list[1].maybe_mm");
        assert_eq!(check_finite(&out(None, f64::NEG_INFINITY)).unwrap_err().0, "pair[1]");
    }
}
