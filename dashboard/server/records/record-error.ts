export type RecordErrorCode =
  | 'ASSET_NOT_FOUND'
  | 'LOCATION_NOT_FOUND'
  | 'NODE_NOT_FOUND'
  | 'NODE_EXISTS'
  | 'MOUNT_NOT_FOUND'
  | 'MOUNT_OVERLAP'
  | 'NAME_TAKEN'
  | 'RUN_NOT_FOUND'
  | 'RUN_UNDER_WAY'
  | 'MARK_NOT_FOUND'
  | 'MANOEUVRE_NOT_FOUND'
  | 'EVENT_NOT_FOUND'
  | 'OWNER_LINK_NOT_FOUND'
  | 'PERSON_NOT_FOUND'
  | 'LAST_SHOP'
  | 'WATCH_PLAN_NOT_FOUND'
  | 'REPAIR_CHECK_NOT_FOUND'
  | 'STRIP_DOWN_NOT_FOUND'
  | 'ALERT_NOT_FOUND'
  | 'RECIPIENT_NOT_FOUND'
  | 'RECIPIENT_EXISTS'
  | 'SETUP_DONE'
  | 'SETUP_TOKEN_WRONG'
  | 'TOO_MANY_RECORDS'
  | 'TOO_MANY_REQUESTS'
  | 'RECORDS_UNREADABLE';

/** A request the records cannot follow. The code is stable; the HTTP interface uses the same one. */
export class RecordError extends Error {
  readonly code: RecordErrorCode;
  /** What to do, where the code alone does not tell. */
  readonly remedy: string | undefined;

  constructor(code: RecordErrorCode, message: string = code, remedy?: string) {
    super(message);
    this.name = 'RecordError';
    this.code = code;
    this.remedy = remedy;
  }
}
