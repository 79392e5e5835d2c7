import { RecordError } from './records/record-error.ts';

/** Every error of the HTTP interface: stable code, status, what was wrong, what to do. */
export const ERRORS = {
  VALIDATION_FAILED: {
    status: 400,
    message: 'A field of the request cannot be used.',
    remedy: 'Correct the named field and send the request again.',
  },
  MALFORMED_JSON: {
    status: 400,
    message: 'The request body is not valid JSON.',
    remedy: 'Send a JSON object, encoded as UTF-8.',
  },
  BAD_REQUEST: {
    status: 400,
    message: 'The request cannot be read.',
    remedy: 'Check the address and the headers.',
  },
  SPAN_INVALID: {
    status: 400,
    message: 'The time span ends before it begins.',
    remedy: 'Give fromMs and toMs in Unix milliseconds, fromMs being the smaller.',
  },
  SPAN_TOO_LONG: {
    status: 400,
    message: 'The time span is too long for this request.',
    remedy: 'Ask for a shorter span, or for the trend.',
  },
  SITES_NOT_SHARED: {
    status: 404,
    message: 'This station shares no database with other sites.',
    remedy: 'Start the station with --influx-url and the options that go with it.',
  },
  SITES_WRITE_ONLY: {
    status: 409,
    message: 'The database may be written to from here, but not asked.',
    remedy: 'Look at the sites on a station that may read it, or start this one without --influx-write-only.',
  },
  SITES_UNREACHABLE: {
    status: 503,
    message: 'The database of the sites does not answer.',
    remedy: 'Levels of this station are on the page Levels. Try the sites again later.',
  },
  METRICS_REFUSED: {
    status: 401,
    message: 'Metrics are given to programs on this machine only, or to those that bring the token.',
    remedy: 'Start the station with --metrics-token, and send it: Authorization: Bearer <token>.',
  },
  LOGIN_NEEDED: {
    status: 401,
    message: 'Nobody is logged in.',
    remedy: 'Log in and try again.',
  },
  LOGIN_WRONG: {
    status: 401,
    message: 'Name or password is wrong.',
    remedy: 'Check both and try again.',
  },
  ORIGIN_REFUSED: {
    status: 403,
    message: 'The request does not come from a page of this station.',
    remedy: "Open the station under its own address; programs send that address in the 'Origin' header.",
  },
  ROLE_NEEDED: {
    status: 403,
    message: 'This needs the role "shop".',
    remedy: 'Ask somebody who has that role.',
  },
  SETUP_TOKEN_WRONG: {
    status: 403,
    message: 'The setup link is not valid.',
    remedy: 'Use the link printed at the newest start of the station; restart it for a fresh one.',
  },
  ROUTE_NOT_FOUND: {
    status: 404,
    message: 'There is nothing at this address.',
    remedy: 'Check the address and the method.',
  },
  ASSET_NOT_FOUND: {
    status: 404,
    message: 'This vehicle or machine does not exist.',
    remedy: 'It may have been deleted: load the list again.',
  },
  LOCATION_NOT_FOUND: {
    status: 404,
    message: 'This location does not exist.',
    remedy: 'It may have been deleted: load the list again.',
  },
  PICTURE_NOT_FOUND: {
    status: 404,
    message: 'There is no picture of this look.',
    remedy: 'Pictures are kept for the newest looks of a location only: look again.',
  },
  NOTHING_MOUNTED: {
    status: 409,
    message: 'No sensor is, or then was, mounted at this location.',
    remedy: 'Mount a sensor, or choose a time at which one was there.',
  },
  NO_SAMPLES: {
    status: 409,
    message: 'The journal holds no second of samples of this sensor at that time.',
    remedy: 'Check that the node sends; raw samples are kept for a limited time only.',
  },
  ANALYSIS_BUSY: {
    status: 503,
    message: 'Too many looks at samples are waiting already.',
    remedy: 'Try again in a minute.',
  },
  ANALYSIS_UNAVAILABLE: {
    status: 503,
    message: 'The samples cannot be analysed at the moment.',
    remedy: 'Try again; if it stays, the reason is in the log of the station.',
  },
  NODE_NOT_FOUND: {
    status: 404,
    message: 'No node with this identity is let in.',
    remedy: 'Add the node first; its identity is 16 hexadecimal digits.',
  },
  NODE_EXISTS: {
    status: 409,
    message: 'This node is let in already; its password cannot be shown again.',
    remedy: 'Revoke the node, then add it again for a new password.',
  },
  RUN_NOT_FOUND: {
    status: 404,
    message: 'This run does not exist.',
    remedy: 'It may have been deleted: load the list again.',
  },
  MARK_NOT_FOUND: {
    status: 404,
    message: 'This run has no such noise mark.',
    remedy: 'It may have been removed: load the run again.',
  },
  MANOEUVRE_NOT_FOUND: {
    status: 404,
    message: 'This run has no such manoeuvre.',
    remedy: 'Load the run again.',
  },
  EVENT_NOT_FOUND: {
    status: 404,
    message: 'This event does not exist.',
    remedy: 'It may have been removed: load the list again.',
  },
  PERSON_NOT_FOUND: {
    status: 404,
    message: 'This person has no account here.',
    remedy: 'It may have been removed: load the list again.',
  },
  NAME_TAKEN: {
    status: 409,
    message: 'Somebody of this name has an account already.',
    remedy: 'Take another name, one that tells the two apart.',
  },
  LAST_SHOP: {
    status: 409,
    message: 'Nobody with the role shop would be left to let others in.',
    remedy: 'Give somebody else the role shop first.',
  },
  PASSWORD_WRONG: {
    status: 403,
    message: 'The present password is wrong.',
    remedy: 'Check it and try again; who has the role shop can set a new one for you.',
  },
  PDF_UNAVAILABLE: {
    status: 503,
    message: 'No Chromium or Chrome is installed on the station, so it cannot make a PDF.',
    remedy: 'Open the report and print it from your own browser, or install chromium on the station.',
  },
  PDF_FAILED: {
    status: 503,
    message: 'Making the PDF failed.',
    remedy: 'Open the report and print it from your own browser.',
  },
  OWNER_LINK_NOT_FOUND: {
    status: 404,
    message: 'This asset has no such link.',
    remedy: 'Load the list again.',
  },
  LINK_NOT_VALID: {
    status: 404,
    message: 'This link is not valid, or not valid any more.',
    remedy: 'Ask the workshop for a new one.',
  },
  WATCH_PLAN_NOT_FOUND: {
    status: 404,
    message: 'This watch plan does not exist.',
    remedy: 'It may have gone with its location: load the list again.',
  },
  REPAIR_CHECK_NOT_FOUND: {
    status: 404,
    message: 'This check of a repair does not exist.',
    remedy: 'It may have gone with its location: load the list again.',
  },
  REPAIR_CHECK_CONCLUDED: {
    status: 409,
    message: 'This check of a repair has been concluded.',
    remedy: 'State a criterion for another check.',
  },
  STRIP_DOWN_NOT_FOUND: {
    status: 404,
    message: 'This entry of the strip-down log does not exist.',
    remedy: 'It may have been removed: load the list again.',
  },
  SAFETY_ADVICE_UNANSWERED: {
    status: 422,
    message:
      'Waiting goes against the safety advice for this part, and nobody has refused that advice by name.',
    remedy: 'Choose an option that does not wait, or record who refuses the advice, with its text as shown.',
  },
  ALERT_NOT_FOUND: {
    status: 404,
    message: 'This alert does not exist.',
    remedy: 'It may have gone with its vehicle or machine: load the list again.',
  },
  RECIPIENT_NOT_FOUND: {
    status: 404,
    message: 'Nobody is told of alerts under this number.',
    remedy: 'It may have been removed: load the list again.',
  },
  RECIPIENT_EXISTS: {
    status: 409,
    message: 'This address is told already.',
    remedy: 'Remove it first if its secret is to be another one.',
  },
  WEBHOOK_REFUSED: {
    status: 400,
    message: 'Alerts are not sent to this address.',
    remedy:
      'Name a public https address; for one in the own network start the station with --alert-private-networks.',
  },
  MAIL_NOT_SET_UP: {
    status: 409,
    message: 'This station has no mail server to send with.',
    remedy: 'Start it with --smtp-url and --smtp-from.',
  },
  MESSAGE_NOT_SENT: {
    status: 502,
    message: 'The test message did not get through.',
    remedy: 'See the reason, correct the address or the other side, and try again.',
  },
  RUN_UNDER_WAY: {
    status: 409,
    message: 'A run of this vehicle or machine is under way already.',
    remedy: 'Go on with that run, or end it first.',
  },
  RAW_SAMPLES_MISSING: {
    status: 409,
    message: 'No raw samples are there for this.',
    remedy:
      'Mount a sensor and record again; a dashboard that runs apart needs the journal folder of its station.',
  },
  CANNOT_ANSWER: {
    status: 422,
    message: 'What was recorded does not answer this.',
    remedy: 'See the reason in the message, and choose another part of the run or record again.',
  },
  ANALYSIS_TOO_LONG: {
    status: 503,
    message: 'The analysis took too long and was stopped.',
    remedy: 'Ask for a shorter part of the run, or for fewer locations.',
  },
  RECORDING_NOT_FOUND: {
    status: 404,
    message: 'This recording is not there.',
    remedy: 'Send the file again; one that no run names within a day is removed.',
  },
  RUN_ENDED: {
    status: 409,
    message: 'This run has ended.',
    remedy: 'Start another run.',
  },
  VEHICLE_DATA_REFUSED: {
    status: 400,
    message: 'The vehicle data cannot be used.',
    remedy: 'Correct what the message names and send it again.',
  },
  MOUNT_NOT_FOUND: {
    status: 404,
    message: 'No sensor is mounted at this location.',
    remedy: 'Mount one first.',
  },
  GRAVITY_CHECK_NOT_FOUND: {
    status: 404,
    message: 'No gravity check of this sensor is under way.',
    remedy: 'Begin one; it is forgotten half an hour after somebody last looked at it.',
  },
  GRAVITY_CHECK_UNFINISHED: {
    status: 409,
    message: 'The sensor has not yet lain still on each of its six faces.',
    remedy: 'Hold the missing positions, then save again.',
  },
  SHAKER_CHECK_UNUSABLE: {
    status: 422,
    message: 'What the sensor felt is not what the shaker gives.',
    remedy: 'See the reason in the message, put it right and check again.',
  },
  STATION_ADDRESS_UNKNOWN: {
    status: 409,
    message: 'This server does not know where nodes reach the broker.',
    remedy: 'See what the broker says when it starts.',
  },
  SETUP_DONE: {
    status: 409,
    message: 'The station is set up already.',
    remedy: 'Log in with a name and a password.',
  },
  STATION_NOT_EMPTY: {
    status: 409,
    message: 'The demo starts only on a station without vehicles and machines.',
    remedy: 'Start a station with an empty data folder to see the demo.',
  },
  DEMO_NOT_AVAILABLE: {
    status: 409,
    message: 'This station cannot start the demo.',
    remedy: 'Start the whole station in one process to see the demo.',
  },
  TOO_MANY_RECORDS: {
    status: 409,
    message: 'The station holds as many of these as it can.',
    remedy: 'Delete what is no longer used.',
  },
  BODY_TOO_LARGE: {
    status: 413,
    message: 'The request body is too large.',
    remedy: 'Send at most 64 KiB.',
  },
  MEDIA_TYPE_REFUSED: {
    status: 415,
    message: 'The request body is not JSON.',
    remedy: "Send JSON with the header 'Content-Type: application/json'.",
  },
  TOO_MANY_REQUESTS: {
    status: 429,
    message: 'Too many requests at once.',
    remedy: 'Wait a minute and try again.',
  },
  INTERNAL_ERROR: {
    status: 500,
    message: 'The station failed on this request.',
    remedy: "Look into the station's log; report it if it happens again.",
  },
  RECORDS_UNREADABLE: {
    status: 503,
    message: 'The records cannot be read or written.',
    remedy: 'Check that the data folder may be written and has free space.',
  },
  READINGS_UNAVAILABLE: {
    status: 503,
    message: 'The store of readings does not answer.',
    remedy: 'Check that the collector runs and that the data folder can be read.',
  },
  TOO_MANY_BROWSERS: {
    status: 503,
    message: 'Too many browsers are watching at once.',
    remedy: 'Close some pages of the station.',
  },
} as const satisfies Record<string, { status: number; message: string; remedy: string }>;

export type ErrorCode = keyof typeof ERRORS;

/** A refusal with a code of the table; `message` replaces the table's when more is known. */
export class Refusal extends Error {
  readonly code: ErrorCode;
  readonly field: string | undefined;

  constructor(code: ErrorCode, detail: { message?: string; field?: string; cause?: unknown } = {}) {
    super(detail.message ?? ERRORS[code].message, { cause: detail.cause });
    this.name = 'Refusal';
    this.code = code;
    this.field = detail.field;
  }
}

/** Codes of the HTTP library, for errors it finds before a route runs. */
const LIBRARY_CODES: Record<string, ErrorCode> = {
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'MEDIA_TYPE_REFUSED',
  FST_ERR_CTP_BODY_TOO_LARGE: 'BODY_TOO_LARGE',
  FST_ERR_CTP_INVALID_JSON_BODY: 'MALFORMED_JSON',
  FST_ERR_CTP_INVALID_CONTENT_LENGTH: 'BAD_REQUEST',
};

interface ForeignError {
  code?: string;
  message?: string;
  statusCode?: number;
  validation?: { instancePath?: string; message?: string; params?: Record<string, unknown> }[];
  validationContext?: string;
}

/** Any thrown value as a refusal; what is not understood becomes `INTERNAL_ERROR` and tells nothing outside. */
export function toRefusal(error: unknown): Refusal {
  if (error instanceof Refusal) return error;
  // The other codes of the records cannot come from a request: then something is wrong inside.
  if (error instanceof RecordError && error.code in ERRORS) return new Refusal(error.code as ErrorCode);
  const { code = '', statusCode, validation, validationContext } = (error ?? {}) as ForeignError;
  if (validation !== undefined) return fromValidation(validation, validationContext);
  const known = LIBRARY_CODES[code];
  if (known !== undefined) return new Refusal(known);
  if (/^SQLITE_(FULL|READONLY|IOERR|BUSY|CANTOPEN|CORRUPT|NOTADB)/.test(code))
    return new Refusal('RECORDS_UNREADABLE');
  if (statusCode === 429) return new Refusal('TOO_MANY_REQUESTS');
  if (error instanceof SyntaxError && statusCode === 400) return new Refusal('MALFORMED_JSON');
  if (statusCode !== undefined && statusCode >= 400 && statusCode < 500) return new Refusal('BAD_REQUEST');
  return new Refusal('INTERNAL_ERROR');
}

/** What was wrong and what to do about it, for programs beside the HTTP interface; null for what nobody foresaw. */
export function explained(error: unknown): { message: string; remedy: string } | null {
  // Errors that carry their own remedy are not this table's.
  if (typeof (error as { remedy?: unknown } | null)?.remedy === 'string') return null;
  const { code, message } = toRefusal(error);
  return code === 'INTERNAL_ERROR' ? null : { message, remedy: ERRORS[code].remedy };
}

function fromValidation(found: NonNullable<ForeignError['validation']>, context = 'body'): Refusal {
  const first = found[0];
  const params = first?.params ?? {};
  const names = params['requiredProperties'] ?? params['additionalProperties'];
  const parent = (first?.instancePath ?? '').split('/').filter(Boolean);
  const path = Array.isArray(names) ? [...parent, String(names[0])] : parent;
  const field = path.length > 0 ? path.join('.') : context;
  // How the validator says that a field does not belong here.
  const what = first?.message === 'schema is false' ? 'is no field of this request' : first?.message;
  return new Refusal('VALIDATION_FAILED', { field, message: `'${field}' ${what ?? 'is not valid'}` });
}
