//! A part with numbers of a type `T`: beliefs as a plan file states them, or plain numbers drawn from them.
//!
//! The macro writes the struct and passes each of its numbers through a function, so that no part lists its numbers twice.

/// A part's struct, its numbers named as reports name them:
///
/// ```text
/// numbers! {
///     /// Another pulley.
///     Pulley {
///         /// New over old drive ratio.
///         ratio_factor: T => number("ratio_factor"),
///         radius_m: Option<T> => maybe("radius"),
///         lift_m: Option<(f64, T)> => from_to("lift_to"),     the first of the two known
///         turbine: TurbineSize<T> => inner,                   with a `map` of its own
///         kind: RotorKind => kept,                            no number in doubt
///     }
/// }
/// ```
macro_rules! numbers {
    ($(#[$doc:meta])* $part:ident {
        $($(#[$field_doc:meta])* $field:ident : $type:ty => $how:ident $(($name:literal))?),* $(,)?
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $part<T> {
            $($(#[$field_doc])* pub $field: $type),*
        }

        impl<T> $part<T> {
            /// The same with every number passed through `convert`, which is told the number's name.
            pub(in crate::parts) fn map<U>(
                &self,
                convert: &mut impl FnMut(&'static str, &T) -> U,
            ) -> $part<U> {
                $part { $($field: numbers!(@$how (&self.$field) convert $($name)?)),* }
            }
        }
    };
    (@number ($field:expr) $convert:ident $name:literal) => { $convert($name, $field) };
    (@maybe ($field:expr) $convert:ident $name:literal) => {
        $field.as_ref().map(|x| $convert($name, x))
    };
    (@from_to ($field:expr) $convert:ident $name:literal) => {
        $field.as_ref().map(|(from, to)| (*from, $convert($name, to)))
    };
    (@inner ($field:expr) $convert:ident) => { $field.map($convert) };
    (@kept ($field:expr) $convert:ident) => { $field.clone() };
}
pub(super) use numbers;
