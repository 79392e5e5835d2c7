export { Alerts } from './alerts.tsx';
