import type { Socket } from 'node:net';
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

/** Answers bytes that are no HTTP request, for which no route and no reply exists. */
export function answerUnreadable(error: Error & { code?: string }, socket: Socket): void {
  if (error.code !== 'ECONNRESET' && socket.writable) {
    const { status, message, remedy } = ERRORS.BAD_REQUEST;
    const body = JSON.stringify({ code: 'BAD_REQUEST', message, remedy } satisfies ApiError);
    const head = `HTTP/1.1 ${status} Bad Request\r\nContent-Type: application/json\r\nConnection: close`;
    socket.write(`${head}\r\nContent-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`);
  }
  socket.destroy(error);
}

function describe(error: unknown): string {
  return error instanceof Error ? (error.stack ?? error.message) : String(error);
}
