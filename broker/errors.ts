/** Every error this folder throws: code, what is wrong, what to do. Codes are stable and never reused. */
export const BROKER_ERRORS = {
  BROKER_BAD_SETTING: ['a setting of the broker is not usable', 'Correct the setting named in the message.'],
  BROKER_PORT_TAKEN: [
    'another program already listens on the MQTT port',
    'Stop that program (often another MQTT broker or a second station), or choose another port with --mqtt-port.',
  ],
  BROKER_PORT_FORBIDDEN: [
    'this account may not listen on the MQTT port',
    'Choose a port above 1023 with --mqtt-port.',
  ],
  BROKER_ADDRESS_UNAVAILABLE: [
    'this computer does not have the address to listen on',
    'Check the address with `ip address`, or listen on 0.0.0.0.',
  ],
  BROKER_LISTEN_FAILED: [
    'the MQTT port could not be opened',
    'See the reason in the message; another port can be chosen with --mqtt-port.',
  ],
  BROKER_TLS_INVALID: [
    'certificate or key of the MQTT port cannot be used',
    'Give a certificate and its own unencrypted key, both in PEM form.',
  ],
  BRIDGE_LIBRARY: [
    'the MQTT library that is installed does not let acknowledgements be held back',
    'Install what package-lock.json names: npm ci.',
  ],
  JOURNAL_FOLDER_MISSING: [
    'the journal folder does not exist',
    'Check that the disk is mounted and the path is right; create the folder, or start the station that writes it.',
  ],
  JOURNAL_FOLDER_READ_ONLY: [
    'the journal folder cannot be written',
    'Give the account that runs the station write access, and check that the disk is not mounted read-only.',
  ],
  JOURNAL_FOLDER_UNUSABLE: [
    'the journal folder cannot be used',
    'See the reason in the message; the path must name a folder on a working disk.',
  ],
  JOURNAL_DISK_FULL: [
    'the disk of the journal is full',
    'Free some space, or move the station to a larger disk.',
  ],
  JOURNAL_IN_USE: [
    'another process writes this journal',
    'Stop the other station first, or give this one a data folder of its own.',
  ],
  JOURNAL_NEWER_FORMAT: [
    'the journal was written by a newer version',
    'Start the newer version again, or give this one an empty journal folder.',
  ],
  JOURNAL_PINS_UNREADABLE: [
    "the journal's pins cannot be read, so nothing is removed from it",
    'Mend or remove the file named in the message; each pin keeps the raw samples of one run.',
  ],
  JOURNAL_PIN_UNUSABLE: [
    'samples cannot be kept under this name or for this span',
    'Correct what the message names.',
  ],
  JOURNAL_RECORD_TOO_LARGE: ['a message does not fit into the journal', 'Send shorter packets.'],
  JOURNAL_CLOSED: ['the journal is closed', 'Nothing was acknowledged; the sender keeps the message.'],
} as const satisfies Record<string, readonly [message: string, remedy: string]>;

export type BrokerErrorCode = keyof typeof BROKER_ERRORS;

/** The only error this folder throws. `message` says what and where, `remedy` what to do. */
export class BrokerError extends Error {
  readonly code: BrokerErrorCode;
  readonly remedy: string;
  constructor(code: BrokerErrorCode, detail?: string, cause?: unknown) {
    const [message, remedy] = BROKER_ERRORS[code];
    super(detail === undefined ? message : `${message}: ${detail}`, { cause });
    this.name = 'BrokerError';
    this.code = code;
    this.remedy = remedy;
  }
}

/** Text of anything thrown, with the system's own code in front when there is one. */
export function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** The system's code (`ENOSPC`, ...) of an error, or an empty string. */
export function systemCode(error: unknown): string {
  return error instanceof Error && 'code' in error && typeof error.code === 'string' ? error.code : '';
}
