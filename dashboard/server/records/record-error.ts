export type RecordErrorCode =
  | 'asset-not-found'
  | 'location-not-found'
  | 'node-not-found'
  | 'node-exists'
  | 'mount-overlap'
  | 'name-taken'
  | 'setup-done'
  | 'setup-token-wrong'
  | 'too-many-records'
  | 'records-unreadable';

/** A request the records cannot follow. The code is stable; the HTTP interface uses the same one. */
export class RecordError extends Error {
  readonly code: RecordErrorCode;

  constructor(code: RecordErrorCode, message: string = code) {
    super(message);
    this.name = 'RecordError';
    this.code = code;
  }
}
