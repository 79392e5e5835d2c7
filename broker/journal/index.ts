/**
 * The door of the journal for other parts of the station: its read side. One writer, any number of readers, in any
 * process of the same computer. Format: format.ts.
 */
export { type JournalReader, type JournalRecord, openJournalReader } from './reader.ts';
