//! How a group of thresholds is written down: reason, name, type and default of each stand once, in one place.

/// A threshold with its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Its group; empty for those of no group.
    pub group: &'static str,
    /// Its key in the group.
    pub key: &'static str,
    /// What it is for and why it has its default, with the unit.
    pub reason: &'static str,
    /// Its value.
    pub value: f64,
    /// True where it is a whole number.
    pub whole: bool,
}

impl Setting {
    /// Its name as it is typed: `group.key`, or the key alone.
    pub fn name(&self) -> String {
        if self.group.is_empty() {
            self.key.to_owned()
        } else {
            format!("{}.{}", self.group, self.key)
        }
    }
}

/// A struct of thresholds with serde, defaults and a list of them. Of the last struct, `groups` are other such structs.
macro_rules! thresholds {
    (
        $(#[$about:meta])*
        pub struct $name:ident {
            $( $(#[doc = $reason:literal])+ $key:ident: $kind:ident = $default:expr, )+
        }
        $( groups { $( $(#[doc = $title:literal])+ $group:ident: $of:ty, )+ } )?
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct $name {
            $( $(#[doc = $reason])+ pub $key: $kind, )+
            $( $( $(#[doc = $title])+ pub $group: $of, )+ )?
        }

        impl Default for $name {
            fn default() -> Self {
                Self {
                    $( $key: $default, )+
                    $( $( $group: <$of>::default(), )+ )?
                }
            }
        }

        impl $name {
            /// Adds every threshold with its value to a list.
            pub(super) fn list_in(
                &self,
                group: &'static str,
                list: &mut Vec<$crate::rig::settings::Setting>,
            ) {
                $( list.push($crate::rig::settings::Setting {
                    group,
                    key: stringify!($key),
                    reason: concat!($($reason),+).trim_ascii(),
                    value: self.$key as f64,
                    whole: stringify!($kind).len() == "usize".len(),
                }); )+
                $( $( self.$group.list_in(stringify!($group), list); )+ )?
            }
        }

        $( impl $name {
            /// Every group with what it is about.
            pub const GROUPS: &[(&str, &str)] =
                &[ $( (stringify!($group), concat!($($title),+).trim_ascii()), )+ ];
        } )?
    };
}
