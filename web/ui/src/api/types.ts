// Short names for what the API says, from the types generated off the server.
import type { components } from "./schema";

type S = components["schemas"];

export type Result = S["Result"];
export type Outline = S["Outline"];
export type Part = S["Part"];
export type Dimension = S["Dimension"];
export type Edit = S["Edit"];
export type Problem = S["Problem"];
export type Curves = S["Prediction"];
export type Feature = S["Feature"];
export type Tone = S["Tone"];
export type Change = S["Change"];
export type Moment = S["Moment"];
export type Phasor = S["Phasor"];
export type DesignFile = S["DesignFile"];
export type Ladder = S["Ladder"];
export type LadderTone = S["LadderTone"];
export type LadderStep = S["LadderStep"];
export type Travel = S["LadderTravel"];
export type Driven = S["Driven"];
export type RecordingRead = S["RecordingRead"];
export type RecordedTone = S["RecordedLadder"];
export type RecordedStep = S["RecordedStep"];
export type Compared = S["Beside"];
export type ComparedTone = S["BesideTone"];
export type Pair = S["BesidePair"];
export type Planned = S["Planned"];
