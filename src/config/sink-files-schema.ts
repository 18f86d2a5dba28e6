/** A sink of the kind `files`: one file per day and stream. */
import { filePath, mapping, oneOf, wholeNumber } from './leaves.js';
import { sinkKeys } from './sink-common-schema.js';

export const filesSink = mapping(
  {
    ...sinkKeys('files'),
    folder: filePath.meta({ description: 'Folder of the files, relative to this file.' }),
    format: oneOf(['parquet', 'csv'], 'Format of the files.').default('parquet'),
    everyS: wholeNumber(
      1,
      3_600,
      'seconds',
      'Records are gathered for so long before the files are written again.',
    ).default(60),
  },
  'Files for people who load files: one for each UTC day and stream, replaced whole.',
);
