export { type Capture, CaptureError, type CaptureStretch, type SensorCapture, type Span } from './capture.ts';
export { type CutOptions, cutCapture } from './cut-capture.ts';
