//! Taking sheets in, without a window: headings, units, days, numbers that a spreadsheet turned, files written.

#[cfg(test)]
mod tests {
    use std::collections::HashMap;
    use std::path::{Path, PathBuf};
    use std::sync::Arc;

    use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};

    use crate::domain::reading::Structure;
    use crate::domain::survey::Survey;
    use crate::store::collection::OpenSurvey;
    use crate::store::radii_table::parse_radii;
    use crate::store::raw_sheet::raw_sheet;
    use crate::store::survey_file::write_survey;
    use crate::workbench::sheet_check::{SheetCheck, check_sheet};
    use crate::workbench::sheet_import::{Fix, SheetImport};
    use crate::workbench::sheet_meaning::SheetKind;
    use crate::workbench::sheet_offers::Offer;
    use crate::workbench::sheet_radii::{RadiiScale, RadiiUnit};
    use crate::workbench::sheet_scans::KnownScans;
    use crate::workbench::sheet_taking::{take_into_survey, write_radii};
    use crate::workbench::survey_lengths::default_reader;

    /// Twelve perch in a field crew's own words: numbers with leading zeros, days with the month first.
    fn crew_sheet() -> String {
        let mut sheet = "Env #,Sp.,Date caught,TL (mm),Wt (g),Weather,Remarks\n".to_owned();
        for i in 1..=12 {
            let mm = 180 + 10 * i;
            let g = (1.2e-5 * f64::from(mm).powi(3)).round();
            sheet += &format!("{i:03},yellow perch,10/{}/2025,{mm},{g},rain,\n", i + 12);
        }
        sheet
    }

    fn import_of(bytes: &[u8], name: &str) -> SheetImport {
        let sheet = raw_sheet(bytes.to_vec(), name, None).unwrap();
        let survey = Survey::new("Alder Pond", "Alder Pond", Structure::Scale);
        SheetImport::new(PathBuf::from(name), sheet, survey, None, Arc::default())
    }

    fn meaning<'a>(import: &'a SheetImport, heading: &str) -> Option<&'a str> {
        let place = import.sheet.headings.iter().position(|one| one == heading).unwrap();
        import.meanings[place].as_deref()
    }

    fn choice<'a>(check: &'a SheetCheck, words: &str) -> &'a Fix {
        let mut choices = check.offers.iter().flat_map(|offer| &offer.choices);
        let found = choices.find(|(label, _)| label.contains(words));
        &found.unwrap_or_else(|| panic!("no '{words}' among {:#?}", check.offers)).1
    }

    fn has_offer(check: &SheetCheck, words: &str) -> bool {
        check.offers.iter().any(|offer: &Offer| offer.words.contains(words))
    }

    /// A survey without fish whose folder stands ready.
    fn empty_survey(folder: &Path) {
        let survey = Survey::new("Alder Pond", "Alder Pond", Structure::Scale);
        write_survey(folder, &survey, None).unwrap();
        std::fs::write(folder.join("fish.csv"), "fish,species,capture_date,length\n").unwrap();
    }

    #[test]
    fn a_crews_own_headings_are_matched_and_days_are_written_anew_with_one_click() {
        let mut import = import_of(crew_sheet().as_bytes(), "crew.csv");
        for (heading, meant) in [
            ("Env #", Some("fish")),
            ("Sp.", Some("species")),
            ("Date caught", Some("capture_date")),
            ("TL (mm)", Some("length_mm")),
            ("Wt (g)", Some("weight_g")),
            ("Weather", None),
            ("Remarks", Some("note")),
        ] {
            assert_eq!(meaning(&import, heading), meant, "{heading}");
        }
        let check = check_sheet(&import);
        assert_eq!((check.n_good, check.n_faulty), (0, 12), "{:#?}", check.problems);
        assert!(
            check
                .problems
                .iter()
                .any(|one| one.row == Some(2) && one.column.as_deref() == Some("Date caught"))
        );
        import.apply(choice(&check, "2025-10-13"));
        let check = check_sheet(&import);
        assert_eq!((check.n_good, check.n_faulty), (12, 0), "{:#?}", check.problems);
        assert!(check.is_clean() && check.may_be_taken(), "{:#?}", check.offers);
    }

    #[test]
    fn nothing_is_written_until_it_is_taken_and_then_the_survey_reads_it_with_its_columns() {
        let folder = tempfile::tempdir().unwrap();
        let survey = folder.path().join("survey");
        std::fs::create_dir_all(&survey).unwrap();
        empty_survey(&survey);
        let listing = || -> Vec<String> {
            let mut names: Vec<String> = std::fs::read_dir(&survey)
                .unwrap()
                .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
                .collect();
            names.sort();
            names
        };
        let before = listing();
        let path = folder.path().join("crew.csv");
        std::fs::write(&path, crew_sheet()).unwrap();
        let mut import = import_of(crew_sheet().as_bytes(), "crew.csv");
        import.path.clone_from(&path);
        let check = check_sheet(&import);
        import.apply(choice(&check, "2025-10-13"));
        _ = check_sheet(&import);
        assert_eq!(listing(), before, "looking writes nothing");
        let taken = take_into_survey(&import, &survey).unwrap();
        assert!(taken.words.contains("fish-before-import-1.csv"), "{}", taken.words);
        let opened = OpenSurvey::open(&survey).unwrap();
        assert_eq!(
            opened.problems.iter().filter(|one| one.is_error()).collect::<Vec<_>>(),
            Vec::<&crate::store::problem::Problem>::new()
        );
        assert_eq!(opened.fish.len(), 12);
        assert_eq!(opened.fish[6].number, "007");
        assert_eq!(opened.fish[0].captured.unwrap().to_string(), "2025-10-13");
        assert_eq!(opened.fish[0].length.unwrap().0, 190.0);
        assert_eq!(opened.survey.column_map["fish"], "Env #");
        assert_eq!(opened.survey.column_map["length_mm"], "TL (mm)");
        assert_eq!(default_reader(&opened), None);
        let text = std::fs::read_to_string(survey.join("fish.csv")).unwrap();
        assert!(text.contains("Date caught: day written anew, month first"), "{text}");
        assert_eq!(
            std::fs::read_to_string(&path).unwrap(),
            crew_sheet(),
            "the sheet stays as it was"
        );
        let kept = std::fs::read_to_string(survey.join("fish-before-import-1.csv")).unwrap();
        assert_eq!(kept, "fish,species,capture_date,length\n");
    }

    #[test]
    fn a_sheet_of_the_survey_itself_is_matched_without_being_rewritten() {
        let folder = tempfile::tempdir().unwrap();
        empty_survey(folder.path());
        let sheet = "Envelope No.,Kind,When,Len\n007,perch,2025-10-04,210\n";
        let path = folder.path().join("fish.csv");
        std::fs::write(&path, sheet).unwrap();
        let mut import = import_of(sheet.as_bytes(), "fish.csv");
        import.path.clone_from(&path);
        let check = check_sheet(&import);
        assert_eq!(check.blocking.len(), 2, "{:?}", check.blocking);
        assert!(!check.may_be_taken());
        import.mean(1, Some("species".to_owned()));
        import.mean(2, Some("capture_date".to_owned()));
        assert!(check_sheet(&import).may_be_taken());
        take_into_survey(&import, folder.path()).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), sheet);
        assert!(!folder.path().join("fish-before-import-1.csv").exists());
        let opened = OpenSurvey::open(folder.path()).unwrap();
        assert_eq!(opened.fish[0].number, "007");
        assert_eq!(opened.survey.column_map["species"], "Kind");
    }

    #[test]
    fn a_matching_is_remembered_for_the_same_headings_and_a_meaning_belongs_to_one_column() {
        let sheet =
            raw_sheet(b"A,B,C,D\n7,perch,2025-10-04,210\n".to_vec(), "a.csv", None).unwrap();
        let remembered: HashMap<String, String> =
            [("A", "fish"), ("B", "species"), ("C", "capture_date"), ("D", "length")]
                .map(|(a, b)| (a.to_owned(), b.to_owned()))
                .into();
        let survey = Survey::new("", "", Structure::Scale);
        let mut import =
            SheetImport::new("a.csv".into(), sheet, survey, Some(&remembered), Arc::default());
        assert_eq!(check_sheet(&import).n_good, 1);
        assert_eq!(import.matching(), remembered);
        import.mean(1, Some("fish".to_owned()));
        assert_eq!((meaning(&import, "A"), meaning(&import, "B")), (None, Some("fish")));
    }

    #[test]
    fn inches_among_millimetres_and_pounds_for_grams_are_put_right_with_one_click() {
        let mut sheet = "fish,species,capture_date,length_mm,weight_g\n".to_owned();
        for i in 1..=12u32 {
            let mm = f64::from(180 + 10 * i);
            // Pounds by the definition of 453.59237 g; one length in inches of 25.4 mm.
            let pounds = 1.2e-5 * mm.powi(3) / 453.592_37;
            let length = if i == 4 { (mm / 25.4 * 100.0).round() / 100.0 } else { mm };
            sheet += &format!("{i:03},perch,2025-10-04,{length},{pounds:.4}\n");
        }
        let mut import = import_of(sheet.as_bytes(), "a.csv");
        let check = check_sheet(&import);
        assert!(
            has_offer(&check, "Row 5: expected a length in millimetres, found 8.66"),
            "{:#?}",
            check.offers
        );
        import.apply(choice(&check, "as inches: 219.964"));
        let check = check_sheet(&import);
        assert!(has_offer(&check, "fit pounds"), "{:#?}", check.offers);
        import.apply(choice(&check, "Take 'weight_g' as weight, pounds"));
        let check = check_sheet(&import);
        assert!(check.offers.is_empty(), "{:#?}", check.offers);
        let read =
            crate::store::field_sheet::field_sheet_from(import.table(), &import.prepared_survey());
        let fourth = &read.fish[3];
        assert!((fourth.length.unwrap().0 - 219.964).abs() < 1e-9);
        let grams = 1.2e-5 * 220f64.powi(3);
        assert!((fourth.weight_g.unwrap() - grams).abs() < 0.1, "{:?}", fourth.weight_g);
    }

    #[test]
    fn numbers_that_a_spreadsheet_turned_into_days_show_what_they_may_have_been() {
        let mut workbook = Workbook::new();
        let sheet = workbook.add_worksheet();
        for (column, heading) in
            ["Envelope", "species", "date", "length", "slide"].iter().enumerate()
        {
            sheet.write_string(0, column as u16, *heading).unwrap();
        }
        let day = |d: u8, m: u8| ExcelDateTime::from_ymd(2025, m, d).unwrap();
        let format = Format::new().set_num_format("d-mmm");
        let rows = [("", Some((3, 4)), 0.0), ("4-5", None, 0.0), ("", None, 12.0)];
        for (row, (text, turned, number)) in (1..).zip(rows) {
            match turned {
                Some((d, m)) => {
                    _ = sheet.write_datetime_with_format(row, 0, day(d, m), &format).unwrap()
                }
                None if text.is_empty() => _ = sheet.write_number(row, 0, number).unwrap(),
                None => _ = sheet.write_string(row, 0, text).unwrap(),
            }
            sheet.write_string(row, 1, "perch").unwrap();
            sheet.write_datetime_with_format(row, 2, day(4, 10), &format).unwrap();
            sheet.write_number(row, 3, 210).unwrap();
        }
        sheet.write_datetime_with_format(1, 4, day(2, 6), &format).unwrap();
        let mut import = import_of(&workbook.save_to_buffer().unwrap(), "catch.xlsx");
        let check = check_sheet(&import);
        assert!(has_offer(
            &check,
            "2025-04-03 stands there as a fish number; it may have been 4-3 or 3-4"
        ));
        let slide =
            check.problems.iter().find(|one| one.column.as_deref() == Some("slide")).unwrap();
        assert!(
            slide.is_error()
                && slide.message.contains("2025-06-02")
                && slide.message.contains("6-2 or 2-6"),
            "{}",
            slide.message
        );
        assert!(has_offer(&check, "1 fish numbers are kept as numbers: leading zeros are lost"));
        import.apply(&choice(&check, "Take row 2 as 4-3").clone());
        import.apply(&choice(&check, "Fill up to 3 digits: 012").clone());
        let read =
            crate::store::field_sheet::field_sheet_from(import.table(), &import.prepared_survey());
        let numbers: Vec<&str> = read.fish.iter().map(|fish| fish.number.as_str()).collect();
        assert_eq!(numbers, ["4-3", "4-5", "012"]);
        assert!(!has_offer(&check_sheet(&import), "stands there as a fish number"));
    }

    #[test]
    fn a_left_out_column_with_a_name_of_ours_is_not_read_and_fish_get_the_scans_named_after_them() {
        let folder = tempfile::tempdir().unwrap();
        empty_survey(folder.path());
        std::fs::write(folder.path().join("scans/AP-007.png"), b"picture").unwrap();
        let sheet = b"fish,species,date,length,my length\n007,perch,2025-10-04,8,210\n";
        let mut import = import_of(sheet, "a.csv");
        let files = OpenSurvey::open(folder.path()).unwrap();
        import.scans = Arc::new(KnownScans::of_survey(&files));
        import.mean(3, None);
        import.mean(4, Some("length_mm".to_owned()));
        take_into_survey(&import, folder.path()).unwrap();
        let opened = OpenSurvey::open(folder.path()).unwrap();
        assert_eq!(opened.fish[0].length.unwrap().0, 210.0);
        assert_eq!(opened.fish[0].scans, ["AP-007.png"]);
    }

    #[test]
    fn radii_of_a_projector_come_in_at_their_magnification() {
        // Check by hand: 48 mm on a picture 24 times enlarged are 2 mm on the scale, 2000 µm.
        let sheet = "Fish,TL in,A1,A2,Radius\n07,10,12,24,48\n08,11,x,24,50\n09,12,10,20,30\n";
        let mut import = import_of(sheet.as_bytes(), "old.csv");
        import.set_kind(SheetKind::Radii);
        import.scale = RadiiScale { unit: RadiiUnit::Millimetres, magnification: 24.0 };
        let check = check_sheet(&import);
        assert_eq!((check.n_good, check.n_faulty, check.blocking.len()), (2, 1, 0), "{check:#?}");
        assert!(
            check
                .problems
                .iter()
                .any(|one| one.row == Some(3) && one.column.as_deref() == Some("A1")),
            "{:#?}",
            check.problems
        );
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("radii.csv");
        write_radii(&import, &path).unwrap();
        let table = parse_radii(&std::fs::read(&path).unwrap()).unwrap();
        let row = &table.rows[0];
        assert_eq!((row.fish.as_str(), row.radius.unwrap().0), ("07", 2000.0));
        assert_eq!(row.annuli.iter().map(|um| um.0).collect::<Vec<_>>(), [500.0, 1000.0]);
        assert_eq!(row.length.unwrap().0, 254.0);
        import.scale.magnification = 0.5;
        let cautions = check_sheet(&import).problems;
        assert!(cautions.iter().any(|one| one.message.contains("check unit and magnification")));
        import.mean(0, None);
        assert!(!check_sheet(&import).may_be_taken());
        assert!(write_radii(&import, &folder.path().join("no.csv")).is_err());
        assert!(write_radii(&import, &path).is_err(), "a file that is there is not replaced");
    }
}
