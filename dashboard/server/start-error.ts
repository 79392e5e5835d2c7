/** Why the dashboard cannot start, and what to do. Codes are stable. */
const START_ERRORS = {
  DASHBOARD_PORT_TAKEN: [
    'another program already listens on the port of the page',
    'Stop that program (perhaps a second station), or choose another port with --port.',
  ],
  DASHBOARD_PORT_FORBIDDEN: [
    'this account may not listen on the port of the page',
    'Choose a port above 1023 with --port.',
  ],
  DASHBOARD_ADDRESS_UNAVAILABLE: [
    'this computer does not have the address to listen on',
    'Check the address with `ip address`, or listen on 0.0.0.0.',
  ],
  DASHBOARD_LISTEN_FAILED: [
    'the port of the page could not be opened',
    'See the reason in the message; another port can be chosen with --port.',
  ],
} as const satisfies Record<string, readonly [message: string, remedy: string]>;

type StartErrorCode = keyof typeof START_ERRORS;

const BY_SYSTEM_CODE: Record<string, StartErrorCode> = {
  EADDRINUSE: 'DASHBOARD_PORT_TAKEN',
  EACCES: 'DASHBOARD_PORT_FORBIDDEN',
  EADDRNOTAVAIL: 'DASHBOARD_ADDRESS_UNAVAILABLE',
  ENOTFOUND: 'DASHBOARD_ADDRESS_UNAVAILABLE',
};

export class StartError extends Error {
  readonly code: StartErrorCode;
  readonly remedy: string;

  /** From what the system said when the port was to be opened. */
  constructor(place: string, cause: unknown) {
    const { code: systemCode = '', message: reason = String(cause) } =
      cause as Partial<NodeJS.ErrnoException>;
    const code = BY_SYSTEM_CODE[systemCode] ?? 'DASHBOARD_LISTEN_FAILED';
    const [message, remedy] = START_ERRORS[code];
    super(`${message}: ${place} (${reason})`, { cause });
    this.name = 'StartError';
    this.code = code;
    this.remedy = remedy;
  }
}
