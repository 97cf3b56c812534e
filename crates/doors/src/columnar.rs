//! A table as a Parquet file: every column optional, compressed with zstd, no library's memory format between.

use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical, ZstdLevel};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::{Type, TypePtr};

use crate::table::{Cells, Column, Table};

/// Named in the file as what wrote it, without a version, so that the same table is the same bytes.
const WRITTEN_BY: &str = "interstice";
const MILLISECONDS: i64 = 1000;

/// The bytes of the file.
pub(crate) fn bytes(table: &Table) -> Result<Vec<u8>, ParquetError> {
    let fields = table.columns.iter().map(field).collect::<Result<Vec<_>, _>>()?;
    let schema = Type::group_type_builder(table.name).with_fields(fields).build()?;
    let properties = WriterProperties::builder()
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .set_created_by(WRITTEN_BY.to_owned())
        .build();
    let mut writer = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    let mut group = writer.next_row_group()?;
    for column in &table.columns {
        write(&mut group, &column.cells)?;
    }
    group.close()?;
    writer.into_inner()
}

fn field(column: &Column) -> Result<TypePtr, ParquetError> {
    let (physical, logical) = match &column.cells {
        Cells::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Cells::Whole(_) => (Physical::INT64, None),
        Cells::Real(_) => (Physical::DOUBLE, None),
        Cells::Instant(_) => (
            Physical::INT64,
            Some(LogicalType::timestamp(true, TimeUnit::MILLIS)),
        ),
        Cells::YesNo(_) => (Physical::BOOLEAN, None),
    };
    let field = Type::primitive_type_builder(column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical)
        .build()?;
    Ok(Arc::new(field))
}

fn write(group: &mut SerializedRowGroupWriter<'_, Vec<u8>>, cells: &Cells) -> Result<(), ParquetError> {
    match cells {
        Cells::Text(cells) => column::<ByteArrayType, _>(group, cells, |text| ByteArray::from(text.as_str())),
        Cells::Whole(cells) => column::<Int64Type, _>(group, cells, |number| *number),
        Cells::Real(cells) => column::<DoubleType, _>(group, cells, |number| *number),
        Cells::Instant(cells) => {
            column::<Int64Type, _>(group, cells, |second| second.saturating_mul(MILLISECONDS))
        }
        Cells::YesNo(cells) => column::<BoolType, _>(group, cells, |yes| *yes),
    }
}

fn column<D: DataType, C>(
    group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    cells: &[Option<C>],
    value: impl Fn(&C) -> D::T,
) -> Result<(), ParquetError> {
    let there: Vec<i16> = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    let values: Vec<D::T> = cells.iter().flatten().map(value).collect();
    let Some(mut writer) = group.next_column()? else {
        return Err(ParquetError::General(
            "more columns than the schema has".to_owned(),
        ));
    };
    writer.typed::<D>().write_batch(&values, Some(&there), None)?;
    writer.close()
}
