import type { FastifyReply, FastifyRequest } from 'fastify';
import type { ApiError } from '../../contract/model.ts';
import type { Log } from '../config.ts';
import { ERRORS, toRefusal } from '../errors.ts';

/** Answers any thrown value as an ApiError. Only the log learns what went wrong inside. */
export function createFailureAnswer(log: Log) {
  return (error: unknown, request: FastifyRequest, reply: FastifyReply): void => {
    const { code, message, field } = toRefusal(error);
    const { status, remedy } = ERRORS[code];
    if (status >= 500) {
      const { method, routeOptions } = request;
      const inside = error instanceof Error && error.cause ? error.cause : error;
      log.error(`${method} ${routeOptions?.url ?? 'unknown route'} failed: ${describe(inside)}`);
    }
    const body: ApiError = { code, message, remedy, ...(field === undefined ? {} : { field }) };
    void reply.code(status).header('cache-control', 'no-store').type('application/json').send(body);
  };
}

function describe(error: unknown): string {
  return error instanceof Error ? (error.stack ?? error.message) : String(error);
}
