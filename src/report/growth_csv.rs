//! Growth curves as comma-separated values, one row for each parameter of each group.

use crate::analysis::growth::{FittedGrowth, GroupGrowth, GrowthStudy};

/// The table; all rows together stand first with an empty group. A value that does not exist is an empty cell.
///
/// # Errors
/// When the text cannot be put together.
pub fn growth_csv(study: &GrowthStudy) -> csv::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "group",
        "curve",
        "n",
        "parameter",
        "estimate",
        "se",
        "ci_low",
        "ci_high",
        "profile_low",
        "profile_high",
        "bootstrap_median",
        "bootstrap_low",
        "bootstrap_high",
        "fixed",
    ])?;
    for group in std::iter::once(&study.whole).chain(&study.groups) {
        if let Ok(fitted) = &group.outcome {
            write_group(&mut writer, study, group, fitted)?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| error.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn write_group(
    writer: &mut csv::Writer<Vec<u8>>,
    study: &GrowthStudy,
    group: &GroupGrowth,
    fitted: &FittedGrowth,
) -> csv::Result<()> {
    let cell = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for (parameter, profile) in fitted.fit.parameters.iter().zip(&fitted.profiles) {
        let drawn = fitted.bootstrap.as_ref().and_then(|bootstrap| {
            bootstrap.parameters.iter().find(|drawn| drawn.name == parameter.name)?.interval
        });
        let [low, high] = profile.unwrap_or([None, None]);
        writer.write_record([
            group.group.clone(),
            study.curve.word().to_owned(),
            group.n.to_string(),
            parameter.name.to_owned(),
            parameter.estimate.to_string(),
            cell(parameter.se),
            cell(parameter.ci95.map(|limits| limits[0])),
            cell(parameter.ci95.map(|limits| limits[1])),
            cell(low),
            cell(high),
            cell(drawn.map(|drawn| drawn.median)),
            cell(drawn.map(|drawn| drawn.ci95[0])),
            cell(drawn.map(|drawn| drawn.ci95[1])),
            parameter.is_fixed.to_string(),
        ])?;
    }
    Ok(())
}
