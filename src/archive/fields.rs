//! Fields of an open file: texts, numbers, lists and stretches of lists.
//!
//! Invariant: type and size are checked before memory is taken.

use super::ArchiveError;
use super::read::Source;
use hdf5::Dataset;
use hdf5::H5Type;
use hdf5::types::VarLenUnicode;
use std::ops::Range;

impl Source {
    pub(super) fn bad(&self, field: &str, what: &str) -> ArchiveError {
        ArchiveError::Field {
            path: self.path.clone(),
            field: field.into(),
            what: what.into(),
        }
    }

    pub(super) fn dataset(&self, field: &str) -> Result<Dataset, ArchiveError> {
        if let Some(dataset) = self.opened.borrow().get(field) {
            return Ok(dataset.clone());
        }
        let dataset = self.file.dataset(field);
        let dataset = dataset.map_err(|error| self.bad(field, &error.to_string()))?;
        let mut opened = self.opened.borrow_mut();
        opened.insert(field.into(), dataset.clone());
        Ok(dataset)
    }

    pub(super) fn is_of<T: H5Type>(&self, dataset: &Dataset) -> bool {
        dataset.dtype().is_ok_and(|found| found.is::<T>())
    }

    /// Number of entries of a list.
    pub(super) fn length(&self, field: &str, limit: usize) -> Result<usize, ArchiveError> {
        let shape = self.dataset(field)?.shape();
        match shape[..] {
            [n_found] if n_found <= limit => Ok(n_found),
            _ => Err(self.bad(field, &format!("it has the shape {shape:?}"))),
        }
    }

    /// Some entries of a list.
    pub(super) fn slice<T: H5Type + Clone>(
        &self,
        field: &str,
        at: Range<usize>,
    ) -> Result<Vec<T>, ArchiveError> {
        let dataset = self.dataset(field)?;
        let shape = dataset.shape();
        if !matches!(shape[..], [n_found] if at.end <= n_found) {
            let what = format!("it has the shape {shape:?}, not [{}]", at.end);
            return Err(self.bad(field, &what));
        }
        if !self.is_of::<T>(&dataset) {
            return Err(self.bad(field, "it is of another type"));
        }
        if at.is_empty() {
            return Ok(Vec::new());
        }
        if at == (0..shape[0]) {
            return self.raw(field, &dataset);
        }
        let values = dataset.read_slice_1d::<T, _>(at);
        let values = values.map_err(|error| self.bad(field, &error.to_string()))?;
        Ok(values.to_vec())
    }

    pub(super) fn list<T: H5Type>(
        &self,
        field: &str,
        n_wanted: usize,
    ) -> Result<Vec<T>, ArchiveError> {
        let dataset = self.dataset(field)?;
        let shape = dataset.shape();
        if shape != [n_wanted] {
            let what = format!("it has the shape {shape:?}, not [{n_wanted}]");
            return Err(self.bad(field, &what));
        }
        self.raw(field, &dataset)
    }

    pub(super) fn number<T: H5Type>(&self, field: &str) -> Result<T, ArchiveError> {
        let dataset = self.dataset(field)?;
        if !dataset.is_scalar() {
            return Err(self.bad(field, "it is no single number"));
        }
        let mut values = self.raw(field, &dataset)?;
        values
            .pop()
            .ok_or_else(|| self.bad(field, "it has no value"))
    }

    pub(super) fn raw<T: H5Type>(
        &self,
        field: &str,
        dataset: &Dataset,
    ) -> Result<Vec<T>, ArchiveError> {
        if !self.is_of::<T>(dataset) {
            return Err(self.bad(field, "it is of another type"));
        }
        if dataset.size() == 0 {
            return Ok(Vec::new());
        }
        let values = dataset.read_raw();
        values.map_err(|error| self.bad(field, &error.to_string()))
    }

    pub(super) fn text(&self, field: &str) -> Result<String, ArchiveError> {
        let text: VarLenUnicode = self.number(field)?;
        self.checked_text(field, &text)
    }

    pub(super) fn texts(&self, field: &str, n_wanted: usize) -> Result<Vec<String>, ArchiveError> {
        let texts: Vec<VarLenUnicode> = self.list(field, n_wanted)?;
        texts
            .iter()
            .map(|text| self.checked_text(field, text))
            .collect()
    }

    /// The library does not look whether a text is UTF-8, and its own access trusts it.
    pub(super) fn checked_text(
        &self,
        field: &str,
        text: &VarLenUnicode,
    ) -> Result<String, ArchiveError> {
        std::str::from_utf8(text.as_bytes())
            .map(str::to_owned)
            .map_err(|error| self.bad(field, &error.to_string()))
    }

    pub(super) fn attr<T: H5Type>(&self, field: &str, name: &str) -> Result<T, ArchiveError> {
        let at = || format!("{field}@{name}");
        let attr = self.dataset(field)?.attr(name);
        let attr = attr.map_err(|error| self.bad(&at(), &error.to_string()))?;
        if !attr.is_scalar() || !attr.dtype().is_ok_and(|found| found.is::<T>()) {
            return Err(self.bad(&at(), "it is of another type"));
        }
        attr.read_scalar()
            .map_err(|error| self.bad(&at(), &error.to_string()))
    }
}
