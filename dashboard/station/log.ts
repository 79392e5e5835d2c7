/** Writes one line a message to standard error, with the station's local time. */
export interface Log {
  info(message: string): void;
  warn(message: string): void;
  error(message: string): void;
}

export function createLog(
  part: string,
  write: (line: string) => void = (line) => process.stderr.write(line),
): Log {
  const line = (level: string, message: string) =>
    write(`${new Date().toISOString()} ${level} ${part}: ${message}\n`);
  return {
    info: (message) => line('info ', message),
    warn: (message) => line('warn ', message),
    error: (message) => line('error', message),
  };
}
