//! Groups, attributes and lists, put into an open file.

use hdf5::Dataset;
use hdf5::File;
use hdf5::Group;
use hdf5::H5Type;
use hdf5::Location;
use hdf5::types::VarLenUnicode;
use std::ops::Range;

/// Higher levels took longer and saved little on measured codes.
const DEFLATE_LEVEL: u8 = 4;

pub(super) fn nexus_group(file: &File, path: &str, class: &str) -> hdf5::Result<Group> {
    let group = file.create_group(path)?;
    attr_text(&group, "NX_class", class)?;
    Ok(group)
}

pub(super) fn unicode(text: &str) -> hdf5::Result<VarLenUnicode> {
    text.parse()
        .map_err(|_nul| hdf5::Error::from(format!("text {text:?} has a zero character in it")))
}

pub(super) fn attr_text(place: &Location, name: &str, value: &str) -> hdf5::Result<()> {
    let value = unicode(value)?;
    place
        .new_attr::<VarLenUnicode>()
        .create(name)?
        .write_scalar(&value)
}

pub(super) fn attr_number<T: H5Type>(place: &Location, name: &str, value: T) -> hdf5::Result<()> {
    place.new_attr::<T>().create(name)?.write_scalar(&value)
}

pub(super) fn text(group: &Group, name: &str, value: &str) -> hdf5::Result<Dataset> {
    let dataset = group.new_dataset::<VarLenUnicode>().create(name)?;
    dataset.write_scalar(&unicode(value)?)?;
    Ok(dataset)
}

pub(super) fn number<T: H5Type>(group: &Group, name: &str, value: T) -> hdf5::Result<()> {
    group.new_dataset::<T>().create(name)?.write_scalar(&value)
}

pub(super) fn list<T: H5Type>(group: &Group, name: &str, values: &[T]) -> hdf5::Result<Dataset> {
    let builder = group.new_dataset_builder();
    if values.is_empty() {
        return builder.empty::<T>().shape(0).create(name);
    }
    builder
        .chunk(values.len().min(super::PIECE_ROWS))
        .shuffle()
        .deflate(DEFLATE_LEVEL)
        .fletcher32()
        .with_data(values)
        .create(name)
}

/// Texts of gaps or phases. Few, and variable-length texts cannot be compressed.
pub(super) fn marks<'a>(
    group: &Group,
    name: &str,
    texts: impl Iterator<Item = &'a str>,
) -> hdf5::Result<Dataset> {
    let texts = texts.map(unicode).collect::<hdf5::Result<Vec<_>>>()?;
    let builder = group.new_dataset_builder();
    if texts.is_empty() {
        return builder.empty::<VarLenUnicode>().shape(0).create(name);
    }
    builder.with_data(&texts).create(name)
}

pub(super) fn marks_s(
    group: &Group,
    name: &str,
    times_s: impl Iterator<Item = f64>,
) -> hdf5::Result<()> {
    let dataset = list(group, name, &times_s.collect::<Vec<_>>())?;
    attr_text(&dataset, "units", "s")
}

/// A compressed list to be filled piece by piece.
pub(super) fn empty_list<T: H5Type>(
    file: &File,
    path: &str,
    n_values: usize,
    n_in_chunk: usize,
) -> hdf5::Result<Dataset> {
    let builder = file.new_dataset_builder();
    if n_values == 0 {
        return builder.empty::<T>().shape(0).create(path);
    }
    builder
        .chunk(n_in_chunk.min(n_values))
        .shuffle()
        .deflate(DEFLATE_LEVEL)
        .fletcher32()
        .empty::<T>()
        .shape(n_values)
        .create(path)
}

/// Fills a stretch of a list.
pub(super) fn slice<T: H5Type>(
    dataset: &Dataset,
    at: Range<usize>,
    values: &[T],
) -> hdf5::Result<()> {
    if values.is_empty() {
        return Ok(());
    }
    dataset.write_slice(values, at)
}

/// An attribute with several texts; none without any.
pub(super) fn attr_texts(group: &Group, name: &str, texts: &[String]) -> hdf5::Result<()> {
    if texts.is_empty() {
        return Ok(());
    }
    let texts = texts.iter().map(|text| unicode(text));
    group
        .new_attr_builder()
        .with_data(&texts.collect::<hdf5::Result<Vec<_>>>()?)
        .create(name)?;
    Ok(())
}
