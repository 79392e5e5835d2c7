/** Errors of starting a station and of the command line: what is wrong and what to do about it. */
export const STATION_ERRORS = {
  BAD_SETTING: 'Correct the option or the CLAMPLINE_ variable; --help lists them.',
  DATA_FOLDER:
    'Give the account that runs the station write access, free some space, or choose another folder with --data.',
  STATION_RUNS: 'Stop the other station first, or give this one its own folder with --data.',
  STATION_UNWELL: 'Log in and see Nodes, then Station; its log says more.',
  NO_STATION: 'Start it with `npm start`, or give its address with --page.',
  STATION_REFUSED: 'See what the station says, and its log.',
  TLS_FILES: 'Check both paths; the files must be PEM, the key unencrypted and readable by this account.',
  BACKUP_FILE: 'Use a file that clampline backup has written, from a medium that can be read.',
  ARCHIVE_FILE: 'Use a file that clampline export has written, from a medium that can be read.',
  COPY_DIFFERS:
    'Run the command again: it copies what is missing. If they differ still, compare the listed days.',
  PLAIN_LISTEN: "Add --tls (a certificate of the station's own), or --plain if the network is trusted.",
} as const;

export type StationErrorCode = keyof typeof STATION_ERRORS;

export class StationError extends Error {
  readonly code: StationErrorCode;
  readonly remedy: string;
  constructor(code: StationErrorCode, message: string, remedy: string = STATION_ERRORS[code]) {
    super(message);
    this.code = code;
    this.remedy = remedy;
  }
}
