/** Readings out of the station and into it, as text that other programs read. */
export type { PlaceName } from './csv-columns.ts';
export { countRows, type ExportFormat, type ExportPart, exportReadings } from './export-readings.ts';
export { type ImportCounts, importReadings } from './import-readings.ts';
export { LevelTableError, parseLevelTable, tableTimeMs } from './level-table.ts';
export { parseCsv } from './parse-csv.ts';
export { parseLines } from './parse-lines.ts';
export { exportSpectra, importSpectra } from './spectra.ts';
