//! How a scan is shown: black and white point, gamma, inversion, local contrast. Kept with the window's settings, for
//! each scan by its fingerprint; never written to the scan, never used by profiles or proposals.

use serde_json::{Value, json};

use crate::imaging::enhance::{Histogram, Tone};

/// How one scan is shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanTone {
    /// Black and white point as shares of the raster's white; `None`: fitted to the scan.
    pub points: Option<[f32; 2]>,
    /// Middle greys are lightened above 1, darkened below.
    pub gamma: f32,
    /// Black is shown white and the other way round.
    pub inverted: bool,
    /// How strongly differences from the surroundings are raised; 0 leaves them as they are.
    pub local_contrast: f32,
}

impl Default for ScanTone {
    fn default() -> Self {
        Self { points: None, gamma: 1.0, inverted: false, local_contrast: 0.0 }
    }
}

/// Share of the pixels cut off at either end where black and white point are fitted.
const CUT_SHARE: f64 = 0.005;

/// Gammas that can be chosen.
pub const GAMMAS: std::ops::RangeInclusive<f32> = 0.3..=3.0;

/// Strengths of local contrast that can be chosen.
pub const LOCAL_CONTRASTS: std::ops::RangeInclusive<f32> = 0.0..=4.0;

impl ScanTone {
    /// The tone for a scan with this histogram.
    pub fn tone(&self, histogram: &Histogram) -> Tone {
        let fitted = Tone::stretched(histogram, CUT_SHARE);
        // An even picture is shown as it is.
        let fitted = if fitted.white - fitted.black < 0.02 { Tone::default() } else { fitted };
        let [black, white] = self.points.unwrap_or([fitted.black, fitted.white]);
        Tone { black, white, gamma: self.gamma, inverted: self.inverted }
    }

    /// As it stands in the settings file.
    pub fn to_json(self) -> Value {
        json!({
            "black_white": self.points.map(|points| points.map(f64::from)),
            "gamma": f64::from(self.gamma),
            "inverted": self.inverted,
            "local_contrast": f64::from(self.local_contrast),
        })
    }

    /// From the settings file; what is missing or out of range is as by default.
    pub fn from_json(value: &Value) -> Self {
        let number = |value: &Value| value.as_f64().map(|number| number as f32);
        let share = |value: &Value| number(value).filter(|share| (0.0..=1.0).contains(share));
        let points = match value.get("black_white").and_then(Value::as_array).map(Vec::as_slice) {
            Some([black, white]) => share(black).zip(share(white)).filter(|(b, w)| b < w),
            _ => None,
        };
        let within = |name: &str, range: std::ops::RangeInclusive<f32>| {
            value.get(name).and_then(number).filter(|found| range.contains(found))
        };
        Self {
            points: points.map(|(black, white)| [black, white]),
            gamma: within("gamma", GAMMAS).unwrap_or(1.0),
            inverted: value.get("inverted").and_then(Value::as_bool).unwrap_or(false),
            local_contrast: within("local_contrast", LOCAL_CONTRASTS).unwrap_or(0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::raster::{Raster, Samples};

    #[test]
    fn points_are_fitted_until_they_are_set_and_an_even_picture_keeps_its_grey() {
        let values = (0..10_000_u16).map(|i| 1000 + i).collect();
        let wide = Histogram::of(&Raster::new(100, 100, Samples::Sixteen(values)).unwrap());
        let fitted = ScanTone::default().tone(&wide);
        assert!((fitted.black - 1050.0 / 65535.0).abs() < 1e-3, "{fitted:?}");
        let set = ScanTone { points: Some([0.2, 0.6]), ..ScanTone::default() };
        assert_eq!((set.tone(&wide).black, set.tone(&wide).white), (0.2, 0.6));
        let even = Histogram::of(&Raster::new(10, 10, Samples::Eight(vec![90; 100])).unwrap());
        assert_eq!(ScanTone::default().tone(&even).shown(90.0 / 255.0), 90);
    }

    #[test]
    fn it_comes_back_from_json_and_nonsense_does_not() {
        let tone = ScanTone {
            points: Some([0.25, 0.75]),
            gamma: 1.5,
            inverted: true,
            local_contrast: 2.0,
        };
        assert_eq!(ScanTone::from_json(&tone.to_json()), tone);
        let bad = json!({"black_white": [0.9, 0.1], "gamma": 99, "inverted": "yes", "local_contrast": -1});
        assert_eq!(ScanTone::from_json(&bad), ScanTone::default());
    }
}
