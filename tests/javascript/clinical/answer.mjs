// Reads a JSON list of {call, given} from standard input and writes the list of answers: one process a batch.
import { text } from 'node:stream/consumers';
import { answer } from './calls.mjs';

const questions = JSON.parse(await text(process.stdin));
process.stdout.write(JSON.stringify(questions.map(({ call, given }) => answer(call, given))));
