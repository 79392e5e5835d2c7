/**
 * The door of the journal for other parts of the station: its read side. One writer, any number of readers, in any
 * process of the same computer. Format: format.ts. And pins, by which a reader keeps what it will want to read again.
 */
export { type JournalPin, type JournalPins, openJournalPins } from './pins.ts';
export { type JournalReader, type JournalRecord, openJournalReader } from './reader.ts';
