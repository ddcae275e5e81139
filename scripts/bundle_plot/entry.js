// The marks and scales the pages draw with, and nothing else.
export {plot, areaY, axisX, axisY, dot, gridX, gridY, lineY, rect, ruleX, ruleY, text} from "@observablehq/plot";
