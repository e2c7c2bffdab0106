//! Marks on parts: colour bands, three-digit capacitor code, tolerance letters (IEC 60062).
