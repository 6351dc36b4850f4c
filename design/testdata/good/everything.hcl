# Every key there is, in one invented box that nobody would build.
title  = "Everything"
author = "nobody"
notes  = <<EOT
A heredoc,
with two lines.
EOT
tones  = ["28 Hz", "0.036 kHz"]

air {
  temperature = "15 C"
  pressure    = "990 hPa"
  humidity    = 0.4
  density     = "1.2 kg/m3"
  speed       = "340 m/s"
  viscosity   = "1.81e-5 Pa*s"
  gamma       = 1.4
  prandtl     = 0.71
}

driver "woofer" {
  re           = "5.8 ohm"
  sd           = "490 cm2"
  fs           = "25 Hz"
  qms          = 5
  qes          = 0.4
  qts          = 0.37
  vas          = "5 ft3"
  mms          = "120 g"
  mmd          = "110 g"
  cms          = "340 um/N"
  rms          = "3.7 kg/s"
  bl           = "16 N/A"
  xmax         = "0.4 in"
  xmech        = "20 mm"
  power        = "0.3 kW"
  displacement = "2.5 L"
  creep        = "10 %"
  coil {
    le = "0.4 mH" # measured with the cone held
    l2 = "800 uH"
    r2 = "6 ohm"
  }
  large {
    x              = ["-5 mm", "0 mm", "4 mm"]
    bl             = ["5 T*m", "7 T*m", "6 N/A"]
    cms            = ["300 um/N", "340 um/N", "310 um/N"]
    le             = ["0.4 mH", "0.4 mH", "0.3 mH"]
    i              = ["-1 A", "0 A", "1 A"]
    le_at_i        = ["0.5 mH", "0.4 mH", "0.3 mH"]
    coil_thermal   = 2.5
    magnet_thermal = 1.1
    coil_time      = "20 s"
    magnet_time    = "1500 s"
    coil_limit     = "180 C"
  }
}
driver "tweak" {
  re = "3 ohm"
  sd = "200 cm2"
  fs = "40 Hz"
  coil {
    k = 0.0226
    n = 0.7
  }
  xmax = "5 mm"
  large {
    xmax_by       = "bl"
    bl_offset     = "-0.5 mm"
    cms_asymmetry = "5 %"
    bl_shape      = [0, -0.18]
    kms_shape     = [0.05, 0.2, 0.01]
    le_shape      = [-0.3]
  }
}

chamber "near" {
  volume           = "60 L"
  gross            = true
  bracing          = "1.2 L"
  fill             = "30 %"
  flow_resistivity = "5000 Pa*s/m2"
  leak_q           = 7
  leak_at          = "40 Hz"
  walls            = "real"
  temperature      = "95 F"
}
chamber "far-end" { size = ["0.5 m", "400 mm", "12 in"] }

junction "throat" {}

port "vent" {
  from           = chamber.near
  to             = chamber.far-end
  size           = ["30 mm", "200 mm"]
  length         = "180 mm"
  count          = 2
  ends           = ["slot", "free"]
  edges          = ["sharp", "rounded"]
  edge_radius    = "6 mm"
  wall           = "900 cm2"
  end_correction = ["12 mm", "0 mm"]
  resistance     = "150 Pa*s/m3"
  speed_limit    = "17 m/s"
  inside         = ["100 mm", "20 mm"]
  wall_thickness = "3 mm"
  walls          = "ideal"
  position       = ["-100 mm", "0 mm", "1 m"]
}
port "tap" {
  from   = chamber.far-end
  to     = junction.throat
  area   = "40 cm2"
  length = "10 mm"
  inside = "5 mm"
}

line "horn" {
  from             = junction.throat
  to               = outside
  fill             = 0.2
  flow_resistivity = "3000 Pa*s/m2"
  walls            = "ideal"
  position         = ["0 m", "0 m", "0 m"]
  section {
    length = "300 mm"
    size   = ["100 mm", "120 mm"]
  }
  section {
    length   = "500 mm"
    diameter = "123 mm"
    to_area  = "300 cm2"
  }
  section {
    length  = "800 mm"
    area    = "300 cm2"
    to_area = "0.2 m2"
    shape   = "exponential"
  }
}
line "stub" {
  from = junction.throat
  to   = closed
  section {
    length = "1 m"
    area   = "60 cm2"
    shape  = "straight"
  }
}

mount "cone" {
  driver   = driver.woofer
  front    = junction.throat
  rear     = chamber.near
  count    = 2
  wiring   = "series"
  reversed = true
  drive    = drive.left
  position = ["0 m", "0.1 m", "0 m"]
}
mount "second" {
  driver = driver.tweak
  front  = outside
  rear   = chamber.far-end
}

passive "drone" {
  sd       = "490 cm2"
  mms      = "200 g"
  cms      = "0.5 mm/N"
  rms      = "2 N*s/m"
  xmax     = "15 mm"
  count    = 2
  front    = outside
  rear     = chamber.near
  position = ["0 m", "0.5 m", "0 m"]
}
passive "other" {
  sd    = "490 cm2"
  fs    = "18 Hz"
  qms   = 9
  vas   = "110 L"
  front = outside
  rear  = chamber.far-end
}

leak "gap" {
  from       = chamber.near
  to         = outside
  resistance = "4e4 Pa*s/m3"
  radiates   = true
}

drive "left" {
  power             = "1 W"
  source_resistance = "50 mohm"
  wiring            = "series"
  gain              = -3
  delay             = "1.5 ms"
  reversed          = true
  coil_temperature  = "80 C"
  max_voltage       = "28 V"
  max_current       = "10 A"
  filter {
    kind      = "high-pass"
    frequency = "20 Hz"
    order     = 2
    q         = 0.9
  }
  filter {
    kind      = "bell"
    frequency = "45 Hz"
    q         = 2
    gain      = -4.5
  }
  filter {
    kind        = "series"
    resistance  = "0.2 ohm"
    inductance  = "3 mH"
    capacitance = "470 uF"
  }
}
drive { voltage = "2 V" }

listen {
  distance  = "2 m"
  position  = ["0 m", "0 m", "2 m"]
  space     = "quarter"
  radiation = "none"
}

tolerance {
  near { volume = "2 %" }
  vent {
    length = "0.5 mm"
    size   = "0.2 mm"
  }
  woofer {
    qms = 0.3
    coil { r2 = "5 %" }
  }
  horn {
    section { length = "2 mm" }
    section { to_area = "3 %" }
  }
  air { temperature = "3 K" }
  left {
    filter { frequency = "1 %" }
  }
}
