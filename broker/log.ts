/** Where this part reports what an operator should know. Passed in, never imported. */
export interface Log {
  info(message: string): void;
  warn(message: string): void;
  error(message: string): void;
}
