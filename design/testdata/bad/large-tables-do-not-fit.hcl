driver "u" {
  re = "6 ohm"
  sd = "200 cm2"
  fs = "40 Hz"
  qms = 5
  qes = 0.4
  vas = "40 L"
  large {
    x = ["-5 mm", "0 mm", "4 mm"]
    bl = ["5 T*m", "7 T*m"]
    bl_shape = [0, -0.1]
    coil_time = "10 s"
  }
}
chamber "c" { volume = "20 L" }
mount "m" {
  driver = driver.u
  front = outside
  rear = chamber.c
}
port "p" {
  from = chamber.c
  to = outside
  diameter = "50 mm"
  length = "100 mm"
  edges = ["sharp", "bevelled"]
}
