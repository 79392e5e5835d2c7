/** Every error this part throws: code, what is wrong, what to do. Codes are stable and never reused. */
const COLLECTOR_ERRORS = {
  COLLECTOR_BAD_SETTING: [
    'a setting of the collector is not usable',
    'Correct the setting named in the message.',
  ],
  COLLECTOR_FAILED: [
    'the collector met something it does not know',
    'See the reason in the message; please report it with the log.',
  ],
  READINGS_FOLDER_MISSING: [
    'the folder of the readings file does not exist',
    'Check that the disk is mounted and the path is right, or create the folder.',
  ],
  READINGS_READ_ONLY: [
    'the readings file cannot be written',
    'Give the account that runs the station write access to the file and its folder, and check that the disk is not mounted read-only.',
  ],
  READINGS_LOCKED: [
    'the readings file is locked by another program',
    'Close other programs that have the file open (a database browser, a backup), then start again.',
  ],
  READINGS_TAKEN_OVER: [
    'another collector has begun to write this readings file',
    'Let only one station use this data folder; this one has stopped writing.',
  ],
  READINGS_CORRUPT: [
    'the readings file is damaged or is no SQLite file',
    'Restore it from a backup, or move it away: readings are then made again from what the journal still holds.',
  ],
  READINGS_FOREIGN: [
    'the file is an SQLite file of something else',
    'Choose another path for the readings, or move that file away.',
  ],
  READINGS_NEWER: [
    'the readings file was written by a newer version',
    'Start the newer version again, or restore the backup made before the update.',
  ],
  READINGS_DISK_FULL: [
    'the disk of the readings file is full',
    'Free some space, or keep readings for a shorter time.',
  ],
  READINGS_UNSOUND: [
    'the readings file was not closed properly and its check found damage',
    'Stop the station and restore a backup (clampline restore FILE), or move the file away: readings are then made again from what the journal still holds.',
  ],
  INFLUX_UNREACHABLE: [
    'InfluxDB does not answer, or asks to be left alone for now',
    'Check that it runs, its address and the network. Readings wait on the disk of the station meanwhile.',
  ],
  INFLUX_DENIED: [
    'InfluxDB does not accept the token',
    'Give a token that may read and write the buckets. Readings wait on the disk of the station meanwhile.',
  ],
  INFLUX_NOT_FOUND: [
    'InfluxDB does not know the organization, the bucket or the interface',
    'Check organization and bucket names and that the address is that of an InfluxDB 2.',
  ],
  INFLUX_REFUSED: [
    'InfluxDB refuses what it was sent',
    'See its reason in the message; a field type conflict means that another program writes the same measurements.',
  ],
  IMPORT_UNREADABLE: [
    'the file to be imported cannot be read',
    'Use a file that clampline export has written, as it is. What came before the line named has been imported.',
  ],
  READINGS_FAILED: ['the readings file cannot be used', 'See the reason in the message.'],
} as const satisfies Record<string, readonly [message: string, remedy: string]>;

export type CollectorErrorCode = keyof typeof COLLECTOR_ERRORS;

/** The error of this part. `message` says what and where, `remedy` what to do. */
export class CollectorError extends Error {
  readonly code: CollectorErrorCode;
  readonly remedy: string;
  constructor(code: CollectorErrorCode, detail?: string, cause?: unknown) {
    const [message, remedy] = COLLECTOR_ERRORS[code];
    super(detail === undefined ? message : `${message}: ${detail}`, { cause });
    this.name = 'CollectorError';
    this.code = code;
    this.remedy = remedy;
  }
}
